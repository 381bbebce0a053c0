package store

import (
	"context"
	"fmt"
	"strings"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// sheetAhead is how many days before its class a slab that is not cut yet stands on the
// bench sheet.
const sheetAhead = 7

// BenchSheet is what a device at the bench keeps for a day without signal: the slabs in
// the house and the limits they are held against. Whose a slab is does not stand on it.
type BenchSheet struct {
	At        unit.Instant
	SeatApart unit.Weight
	Scales    []ScaleLine
	Slabs     []SheetSlab
}

// SheetSlab is one slab of the bench sheet.
type SheetSlab struct {
	SlabView
	Nitrite     unit.Ratio  // share in the curing salt of its ticket
	Least, Most unit.Weight // of curing salt that may be sealed in; 0, 0 without a ticket
	DryLeast    unit.Weight // finished weight (R36)
	DryMost     unit.Weight
}

// BenchSheet reads the sheet as it stands now.
func (s *Store) BenchSheet(ctx context.Context) (*BenchSheet, error) {
	scales, err := s.Scales(ctx)
	if err != nil {
		return nil, err
	}
	out := &BenchSheet{At: s.Now(), SeatApart: s.Rules.SeatApart, Scales: scales}
	var after []func()
	t := s.newTx(s.read(ctx), &after)
	slabs, err := many[shop.Slab](t.DB, "class_id, number", `state IN ? OR state = ? AND class_id IN (SELECT id FROM classes WHERE day BETWEEN ? AND ?)`,
		shop.SlabsAtHand, shop.Wanted, t.today-1, t.today+sheetAhead)
	if err != nil {
		return nil, err
	}
	for i := range slabs {
		v, err := t.slabView(&slabs[i])
		if err != nil {
			return nil, err
		}
		x := SheetSlab{SlabView: *v}
		x.DryLeast, x.DryMost = finishBounds(v.Green, s.Rules.FinishMin, s.Rules.FinishMax)
		if k, row, err := reckonTicket(t.DB, &slabs[i], v.Green, t.today); err == nil && (whereIs(&slabs[i]) == shop.Cut || whereIs(&slabs[i]) == shop.Kitted) {
			x.Ticket, x.Nitrite = row, k.Parts[0].Lot.Nitrite
			x.Least, x.Most, _ = k.Bounds(cure.CureStep)
		} else if _, ok := shop.AsError(err); err != nil && !ok {
			return nil, err
		}
		out.Slabs = append(out.Slabs, x)
	}
	return out, nil
}

// finishBounds are the least and the most hundredths of a pound that pass R36, asked of
// the check itself.
func finishBounds(green unit.Weight, low, high unit.Ratio) (least, most unit.Weight) {
	const step = unit.Pound / 100
	if green <= 0 {
		return 0, 0
	}
	ok := func(w unit.Weight) bool { return cure.CheckFinished(green, w, low, high).Answer == cure.OK }
	for least = green.Share(low).Round(step) - step; !ok(least); least += step {
		if least > green {
			return 0, 0
		}
	}
	for most = green.Share(high).Round(step) + step; !ok(most); most -= step {
	}
	return least, most
}

// Line is the one-line answer to a scan: whose, what is on it, which side it was cut
// from, what comes next, allowed or held (M9).
func (v *SlabView) Line(loc *time.Location) string {
	p := []string{v.Tag + ": " + v.Owner}
	switch {
	case v.Ask:
		p = append(p, "spice not chosen")
	case v.Jar != "":
		p = append(p, v.Jar)
	}
	if v.Side != "" {
		p = append(p, v.Side)
	}
	state := string(v.State)
	if v.State == shop.InCure {
		state += fmt.Sprintf(" day %d", v.Day)
	}
	if v.Place != "" {
		state += " at " + v.Place
	}
	p = append(p, state)
	text := strings.Join(p, ", ")
	switch {
	case v.State == shop.OnHold:
		return text + "; held since " + v.HeldSince.In(loc).Format("Mon 15:04") + ": nothing may be done"
	case v.Next == "":
		return text + "; nothing comes next"
	case v.State == shop.InCure:
		return text + fmt.Sprintf("; next %s, allowed from %s", v.Next, v.UnbagFrom.Show())
	}
	return text + fmt.Sprintf("; next %s, allowed", v.Next)
}
