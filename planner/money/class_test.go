package money

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

// wages are the costs of the demo shop (R42).
func wages() ClassCosts {
	return ClassCosts{Skinless: 560, SkinOn: 470, Goods: 485, WorkMin: 12, WorkHour: 22_00, TeachMin: 150, TeachHour: 38_00, HelpMin: 150, HelpHour: 20_00}
}

// A full bacon class at the old price, ten seats of $95 and eleven slabs of 4.35 lb, by
// hand: 47.85 lb × 5.60 = 267.96; goods 53.35; 132 min at $22 = 48.40; 95.00 and 50.00.
func TestAccount(t *testing.T) {
	a := Account([]Income{{"Seats", 950_00, "10 × $95.00"}}, []SlabWeight{{Weight: unit.Pound * 435 / 100, Count: 11}}, 10, wages())
	var lines []string
	for _, l := range a.Lines {
		lines = append(lines, fmt.Sprintf("%s %s (%s)", l.Name, l.Cents, l.Why))
	}
	want := `Seats $950.00 (10 × $95.00)
Belly, skinless -$267.96 (47.85 lb at $5.60 a pound, demo included)
Goods -$53.35 (11 slabs at $4.85)
After-work -$48.40 (11 slabs × 12 min at $22.00 an hour)
Teaching -$95.00 (150 min at $38.00 an hour)
Helping -$50.00 (150 min at $20.00 an hour)`
	if got := strings.Join(lines, "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if a.Cost != 514_71 || a.Margin != 435_29 || a.ASeat != 51_47 || a.AShare.Pct(1) != "45.8 %" {
		t.Errorf("cost %s, margin %s, a seat %s, %s", a.Cost, a.Margin, a.ASeat, a.AShare.Pct(1))
	}
	// A slab left in its skin is priced as such.
	on := Account(nil, []SlabWeight{{4 * unit.Pound, true, 0}}, 0, ClassCosts{Skinless: 560, SkinOn: 470})
	if on.Margin != -18_80 || on.ASeat != 0 || on.AShare != 0 {
		t.Errorf("skin on: %+v", on)
	}
}

func TestAccountLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var in []Income
		var sum unit.Money
		for range rapid.IntRange(0, 5).Draw(t, "income") {
			c := unit.Money(rapid.IntRange(0, 100_000).Draw(t, "cents"))
			in, sum = append(in, Income{"x", c, "y"}), sum+c
		}
		var slabs []SlabWeight
		for range rapid.IntRange(0, 12).Draw(t, "slabs") {
			slabs = append(slabs, SlabWeight{unit.Weight(rapid.IntRange(1000, 3000).Draw(t, "g")) * unit.Gram, rapid.Bool().Draw(t, "skin"), 0})
		}
		a := Account(in, slabs, rapid.IntRange(0, 12).Draw(t, "seats"), wages())
		var lines unit.Money
		for _, l := range a.Lines {
			lines += l.Cents
		}
		if a.Income != sum || a.Income-a.Cost != a.Margin || lines != a.Margin {
			t.Fatalf("%+v", a)
		}
	})
}
