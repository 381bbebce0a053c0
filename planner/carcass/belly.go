package carcass

import (
	"fmt"

	"flitchbook/planner/unit"
)

// Side is a delivered or forecast side and what is decided for its belly.
type Side struct {
	Tag   string // pig 2 L
	Cold  unit.Weight
	Belly unit.Weight // rib-off, if it already lies on the scale; 0 = by the profile's share
	Skin  Skin
}

// BellyCut is one line of the cut list: a belly and the slabs it gives.
// Squaring + SkinOff + Net is the belly exactly.
type BellyCut struct {
	Tag      string
	Belly    unit.Weight // rib-off, before squaring
	Skin     Skin
	Squaring unit.Weight // trimmed to straight edges
	SkinOff  unit.Weight // 0 when the skin stays on
	Net      unit.Weight
	Slabs    Slabs
}

// CutSide cuts the belly of a side: the one weighed, or else the forecast from the
// side's cold weight.
func (p Profile) CutSide(r SlabRule, s Side) BellyCut {
	belly := s.Belly
	if belly == 0 {
		belly = p.Break(s.Cold).Belly
	}
	c := p.CutBelly(r, belly, s.Skin)
	c.Tag = s.Tag
	return c
}

// CutBelly squares a rib-off belly that lies on the scale, and cuts it.
func (p Profile) CutBelly(r SlabRule, belly unit.Weight, skin Skin) BellyCut {
	c := BellyCut{Belly: belly, Skin: skin, Squaring: belly.Share(p.Squaring)}
	if skin == Skinless {
		c.SkinOff = belly.Share(p.Skin)
	}
	c.Net = belly - c.Squaring - c.SkinOff
	c.Slabs = r.Cut(c.Net)
	return c
}

// CutList cuts every side's belly and counts the slabs, belly by belly.
func (p Profile) CutList(r SlabRule, sides []Side) (cuts []BellyCut, slabs int) {
	for _, s := range sides {
		c := p.CutSide(r, s)
		cuts = append(cuts, c)
		slabs += c.Slabs.Count
	}
	return cuts, slabs
}

// PerBelly is how many slabs the belly of the profile's usual animal gives.
func (p Profile) PerBelly(r SlabRule, skin Skin) BellyCut {
	return p.CutSide(r, Side{Cold: p.Forecast().Side, Skin: skin})
}

// Step is a span of hot carcass weights, in whole steps, whose bellies all give the
// same count in the same mode.
type Step struct {
	From, To unit.Weight // both included
	Count    int         // slabs a belly
	Mode     Mode
	At       BellyCut // the belly at From
}

// Ladder walks hot carcass weights from lo to hi in whole steps and returns the
// spans in which the slab count holds, lightest first: where a pig a little lighter
// than promised costs slabs. A step below an ounce, or a walk of over 20,000 steps,
// returns nil.
func (p Profile) Ladder(r SlabRule, skin Skin, lo, hi, step unit.Weight) []Step {
	if step < unit.Ounce || (hi-lo)/step > 20_000 {
		return nil
	}
	var steps []Step
	for w := lo; w <= hi; w += step {
		c := p.CutSide(r, Side{Cold: FromHot(w, p.Shrink).Side, Skin: skin})
		if n := len(steps) - 1; n >= 0 && steps[n].Count == c.Slabs.Count && steps[n].Mode == c.Slabs.Mode {
			steps[n].To = w
			continue
		}
		steps = append(steps, Step{w, w, c.Slabs.Count, c.Slabs.Mode, c})
	}
	return steps
}

// Drop is where the count steps down below a weight.
type Drop struct {
	Keeps unit.Weight // the lightest whole pound that still gives Count
	Count int         // slabs a belly from there up to the weight asked about
	Under int         // slabs a belly one pound lighter; below Count
	Why   string
}

// StepDown returns the next fall in slabs a belly below hot carcass weight hot,
// looking at whole pounds. It reports false when no lighter pig gives fewer.
func (p Profile) StepDown(r SlabRule, skin Skin, hot unit.Weight) (Drop, bool) {
	count := func(w unit.Weight) int {
		return p.CutSide(r, Side{Cold: FromHot(w, p.Shrink).Side, Skin: skin}).Slabs.Count
	}
	now := count(hot)
	keeps := hot
	for w := (hot - 1) / unit.Pound * unit.Pound; w > 0; w -= unit.Pound {
		if n := count(w); n < now {
			return Drop{keeps, now, n, fmt.Sprintf("%s and up gives %d a belly, under it %d", keeps.LB(), now, n)}, true
		}
		keeps = w
	}
	return Drop{}, false
}
