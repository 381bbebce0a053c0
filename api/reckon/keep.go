package reckon

import (
	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

// keepIn is a vacuum-packed raw piece in fridge and freezer.
type keepIn struct {
	Packed unit.Day     `json:"packed" doc:"day it was vacuum-packed"`
	Frozen unit.Day     `json:"frozen,omitempty"`
	Thawed unit.Day     `json:"thawed,omitempty" doc:"out of the freezer"`
	Days   int          `json:"days,omitempty" minimum:"0" maximum:"365" doc:"it may lie in the fridge; 30 when not given; local code decides"`
	Piece  unit.Weight  `json:"piece,omitempty" doc:"of one piece, for thawing and room"`
	Pieces int          `json:"pieces,omitempty" minimum:"0" maximum:"10000" doc:"1 when not given"`
	Start  unit.Instant `json:"start,omitempty" doc:"of the class it is thawed for; needs piece"`
}

type keepOut struct {
	DiscardAfter unit.Day     `json:"discard_after,omitempty" doc:"left out while it is frozen: no days are counted"`
	ThawDays     int          `json:"thaw_days,omitempty" doc:"24 h for every started 5 lb, per piece"`
	OutBy        unit.Instant `json:"out_of_freezer_by,omitempty"`
	CubicFeet    float64      `json:"cubic_feet,omitempty" doc:"of freezer, at 35 lb a cubic foot"`
}

func (k keepIn) answer(faults *unit.Faults) *keepOut {
	const under = "keep"
	days := k.Days
	if days == 0 {
		days = 30
	}
	switch {
	case k.Packed == 0:
		faults.Add(under+".packed", "the day it was packed is missing")
	case k.Frozen != 0 && k.Frozen < k.Packed:
		faults.Add(under+".frozen", "it was frozen before it was packed")
	case k.Frozen != 0 && int(k.Frozen-k.Packed) > days:
		faults.Add(under+".frozen", "its days in the fridge had run out before it was frozen")
	case k.Thawed != 0 && (k.Frozen == 0 || k.Thawed < k.Frozen):
		faults.Add(under+".thawed", "it was thawed before it was frozen")
	}
	faults.Under(under+".piece", sensible(k.Piece))
	if k.Start != 0 && k.Piece <= 0 {
		faults.Add(under+".piece", "how long it thaws hangs on its weight")
	}
	if len(*faults) > 0 {
		return nil
	}
	out := &keepOut{}
	if d, ok := (carcass.Keeping{Packed: k.Packed, Frozen: k.Frozen, Thawed: k.Thawed, MostDays: days}).DiscardAfter(); ok {
		out.DiscardAfter = d
	}
	if k.Piece > 0 {
		out.ThawDays = demand.ThawSteps(k.Piece, 5*unit.Pound)
		out.CubicFeet = float64(carcass.FreezerRoom(k.Piece*unit.Weight(max(k.Pieces, 1)), 35)) / 100
	}
	if k.Start != 0 {
		out.OutBy = demand.OutBy(k.Start, k.Piece, 0)
	}
	return out
}
