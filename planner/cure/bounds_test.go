package cure

import (
	"testing"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

// R25's own example: 4.60 lb with the skin on asks for 4.7 g; 5.2 g is 10.6 % over and
// stops (job.md M8), so 5.1 g is the most (8.5 % over).
func TestBounds(t *testing.T) {
	for _, r := range []struct {
		pounds      string
		skin        bool
		least, most string
	}{
		{"4.60", true, "4.3 g", "5.1 g"},  // 4.7 ± 10 % is 4.23 to 5.17
		{"4.31", false, "4.5 g", "5.3 g"}, // 4.9 ± 10 % is 4.41 to 5.39
		{"5.62", false, "5.8 g", "7.0 g"}, // 6.4 ± 10 % is 5.76 to 7.04
	} {
		k := ticket(t, "B5-01", r.pounds, r.skin, Jar{})
		least, most, ok := k.Bounds(CureStep)
		if !ok || least.G(1) != r.least || most.G(1) != r.most {
			t.Errorf("%s: %s to %s, %v; want %s to %s", r.pounds, least.G(1), most.G(1), ok, r.least, r.most)
		}
	}
}

// A reading passes between the bounds and nowhere else.
func TestBoundsAreTheJudge(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := Slab{Tag: "B5-01", Green: unit.Pound.MulDiv(int64(rapid.IntRange(100, 1200).Draw(r, "hundredths lb")), 100), SkinOn: rapid.Bool().Draw(r, "skin")}
		k, err := NewTicket(s, HouseRecipe(), Jar{}, WholeLot(Lot{ID: "CS", Nitrite: unit.Ratio(rapid.IntRange(40000, 66000).Draw(r, "nitrite"))}), CureStep)
		if err != nil {
			return // no ticket at all: nothing to weigh
		}
		least, most, ok := k.Bounds(CureStep)
		w := CureStep * unit.Weight(rapid.IntRange(1, 200).Draw(r, "tenths"))
		passes := CheckWeighOut(k, w.Number(unit.Gram, 1), Scale{Step: CureStep, Checked: 1, Reading: CheckWeight}, 1).Answer != Block
		if within := ok && w >= least && w <= most; within != passes {
			r.Fatalf("%s on %s: bounds %s to %s (%v), the judge says %v", w.G(1), s.Green.LB(), least.G(1), most.G(1), ok, passes)
		}
	})
}
