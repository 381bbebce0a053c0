package cure

import "flitchbook/planner/unit"

// Totals is what a class needs, summed over its tickets as rounded: that is what
// the cups will hold.
type Totals struct {
	Slabs      int
	Green      unit.Weight
	Salt       unit.Weight
	Sugar      unit.Weight
	CuringSalt unit.Weight
	Spices     []SpiceTotal // by jar, in the order the jars first come up
}

// A SpiceTotal is one jar's need and what to put in it.
type SpiceTotal struct {
	Jar  string
	Need unit.Weight
	Fill unit.Weight // with the spare, up to the next whole step
}

// What the shop puts in its jars to start with (house rule): 15 % spare, to 5 g.
const (
	SpareShare = 15 * unit.Percent
	SpareStep  = 5 * unit.Gram
)

// Sum adds up a class's tickets and fills each jar with the spare on top, up to the
// next whole step. Plain slabs need no jar. step must be above zero.
func Sum(tickets []Ticket, spare unit.Ratio, step unit.Weight) Totals {
	var t Totals
	at := map[string]int{}
	for _, k := range tickets {
		t.Slabs++
		t.Green += k.Slab.Green
		t.Salt += k.Salt
		t.Sugar += k.Sugar
		t.CuringSalt += k.CuringSalt
		if k.Spice == 0 {
			continue
		}
		i, ok := at[k.Jar.Code]
		if !ok {
			i = len(t.Spices)
			at[k.Jar.Code] = i
			t.Spices = append(t.Spices, SpiceTotal{Jar: k.Jar.Code})
		}
		t.Spices[i].Need += k.Spice
	}
	for i, s := range t.Spices {
		spared := unit.MulDiv(int64(s.Need), int64(unit.One+spare), int64(unit.One), unit.Up)
		t.Spices[i].Fill = unit.Weight(spared).RoundUp(step)
	}
	return t
}
