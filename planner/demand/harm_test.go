package demand_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

func names(p demand.WayPlan) string {
	var n []string
	for _, o := range p.Options {
		n = append(n, o.Name)
	}
	return strings.Join(n, " + ")
}

// House scenario S-01: short 2; the demo slab and the skin of either light belly give one
// each, and any two of the three close the gap.
func TestAnyTwoOfThree(t *testing.T) {
	plans := demand.Plans(2, []demand.Option{
		{Name: "demo", Gain: 1, Rank: 1, Harm: demand.Harm{Own: 1}}, {Name: "skin 2 L", Gain: 1, Rank: 2, Harm: demand.Harm{Rind: 3}}, {Name: "skin 2 R", Gain: 1, Rank: 2, Harm: demand.Harm{Rind: 3}},
		{Name: "skin 1 L", Gain: 0}, {Name: "call off", Gain: 12, Rank: 9, Harm: demand.Harm{People: 10, Money: 950_00}},
	}, 9)
	var got []string
	for _, p := range plans {
		got = append(got, names(p))
	}
	want := "[demo + skin 2 L demo + skin 2 R skin 2 L + skin 2 R call off]"
	if fmt.Sprint(got) != want {
		t.Errorf("plans = %v, want %s", got, want)
	}
}

// House scenario S-10: short 2, both demos; no guest is touched.
func TestBothDemos(t *testing.T) {
	plans := demand.Plans(2, []demand.Option{{Name: "demo B3", Gain: 1, Harm: demand.Harm{Own: 1}}, {Name: "demo P2", Gain: 1, Harm: demand.Harm{Own: 1}},
		{Name: "off P2", Gain: 8, Harm: demand.Harm{People: 8}, Not: []string{"demo P2"}}}, 5)
	if len(plans) != 2 || names(plans[0]) != "demo B3 + demo P2" || plans[0].Harm.People != 0 || names(plans[1]) != "off P2" {
		t.Errorf("plans = %+v", plans)
	}
}

// No plan has an option too many, the first does the least harm of all that close the
// gap, and no two that exclude each other go together. The judge tries every subset.
func TestPlansLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var options []demand.Option
		for i := range rapid.IntRange(0, 9).Draw(t, "options") {
			o := demand.Option{Name: fmt.Sprint("w", i), Gain: rapid.IntRange(0, 4).Draw(t, "gain"), Rank: i,
				Harm: demand.Harm{People: rapid.IntRange(0, 2).Draw(t, "people"), Seats: rapid.IntRange(0, 2).Draw(t, "seats"), Money: unit.Money(rapid.IntRange(0, 300).Draw(t, "cents"))}}
			if i > 0 && rapid.IntRange(0, 3).Draw(t, "not") == 0 {
				o.Not = []string{fmt.Sprint("w", rapid.IntRange(0, i-1).Draw(t, "which"))}
			}
			options = append(options, o)
		}
		short := rapid.IntRange(1, 8).Draw(t, "short")
		plans := demand.Plans(short, options, 1000)
		least, any := demand.Harm{}, false
		var walk func(i, gain int, h demand.Harm, taken []demand.Option)
		walk = func(i, gain int, h demand.Harm, taken []demand.Option) {
			if i == len(options) {
				if gain >= short && (!any || h.Compare(least) < 0) {
					least, any = h, true
				}
				return
			}
			walk(i+1, gain, h, taken)
			o := options[i]
			if o.Gain > 0 && !slices.ContainsFunc(taken, func(q demand.Option) bool { return slices.Contains(o.Not, q.Name) || slices.Contains(q.Not, o.Name) }) {
				walk(i+1, gain+o.Gain, h.Plus(o.Harm), append(slices.Clone(taken), o))
			}
		}
		walk(0, 0, demand.Harm{}, nil)
		if any != (len(plans) > 0) || any && plans[0].Harm.Compare(least) != 0 {
			t.Fatalf("least harm %+v (%v), plans %+v", least, any, plans)
		}
		for i, p := range plans {
			gain := 0
			for _, o := range p.Options {
				gain += o.Gain
			}
			for _, o := range p.Options {
				if gain-o.Gain >= short {
					t.Fatalf("%s has %s to spare", names(p), o.Name)
				}
			}
			if gain < short || gain != p.Gain || i > 0 && plans[i-1].Harm.Compare(p.Harm) > 0 {
				t.Fatalf("%s of short %d: %+v", names(p), short, plans)
			}
		}
	})
}
