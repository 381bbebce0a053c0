package order_test

import (
	"slices"
	"strings"
	"testing"

	"flitchbook/planner/order"
)

// small is a week for the pencil: one pig or its halves, two classes, one of them with
// bellies from the freezer.
func small() order.Problem {
	kind := func(name string, space int) order.Kind {
		return order.Kind{Name: name, Space: space, FreshMin: 1, FreshMax: 4, FrozenMax: 20, FreezeCost: 150, Value: 3000, Outlet: []int{1, 1}}
	}
	side := kind("side", 7)
	side.BreaksInto = []order.Count{{Name: "belly", N: 1}, {Name: "ham", N: 1}}
	side.FrozenMax, side.Value = 0, 0
	return order.Problem{
		Kinds: []order.Kind{side, kind("belly", 2), kind("ham", 3)},
		Forms: []order.Form{{Name: "whole", Gives: []order.Count{{Name: "side", N: 2}}, Group: "halves", Size: 2},
			{Name: "half", Gives: []order.Count{{Name: "side", N: 1}}, Group: "halves", Size: 1}},
		Offers: []order.Offer{
			{ID: "early", Day: 2, Drop: 2000, Caps: []order.Count{{Name: "halves", N: 4}}, Slot: "Tue",
				Prices: []order.Price{{Form: "whole", Unit: 20000}, {Form: "half", Unit: 11000}}},
			{ID: "past", Day: 3, HasOrderBy: true, OrderBy: -9, Caps: []order.Count{{Name: "halves", N: 4}}, Prices: []order.Price{{Form: "half", Unit: 100}}},
		},
		Slots: []order.Slot{{Name: "Tue", Group: "halves", Most: 3}},
		Classes: []order.Class{
			{ID: "ham", Day: 5, Demand: []order.Count{{Name: "ham", N: 1}}},
			{ID: "bacon", Day: 12, Demand: []order.Count{{Name: "belly", N: 2}}, FrozenOK: []string{"belly"}, Thaw: []order.Count{{Name: "belly", N: 3}}},
		},
		Cooler: order.Room{Cap: 10}, Freezer: order.Room{Cap: 4},
	}
}

// Reckoned by hand: two sides are needed for two bellies, one whole is cheaper than two
// halves; 200.00 + 20.00 haul + 2 × 1.50 freezing − 30.00 for the ham left over = 193.00.
// Two halves: 20.00 more.
func TestByHand(t *testing.T) {
	a, err := order.Solve(small(), order.Options{Plans: 2})
	if err != nil {
		t.Fatal(err)
	}
	if a.Cost != 19300 || a.Status != order.Proven || len(a.Next) != 1 || a.Next[0].Cost != 21300 {
		t.Errorf("%+v", a)
	}
	want := []order.Use{{Offer: "early", Class: "ham", Kind: "ham", Pieces: 1}, {Offer: "early", Class: "bacon", Kind: "belly", Pieces: 2, Frozen: true}}
	if !slices.Equal(a.Uses, want) {
		t.Errorf("uses %v, want %v", a.Uses, want)
	}
	if len(a.Left) != 1 || a.Left[0].Offer != "past" || !strings.Contains(a.Left[0].Why, "too late") {
		t.Errorf("left out: %v", a.Left)
	}
	if got := order.Differs(a.Plan, a.Next[0]); got != "$20.00 more: buys 2 half of offer early; leaves out 1 whole of offer early" {
		t.Error(got)
	}
}

// The checker finds what is done to a good plan.
func TestCheckFinds(t *testing.T) {
	a, err := order.Solve(small(), order.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		want string
		do   func(p *order.Problem, plan *order.Plan)
	}{
		{"the plan says it costs $193.01, it costs $193.00", func(_ *order.Problem, plan *order.Plan) { plan.Cost++ }},
		{"bound $193.01, cost $193.00", func(_ *order.Problem, plan *order.Plan) { plan.Bound++ }},
		{"bound $192.99, cost $193.00, proven true", func(_ *order.Problem, plan *order.Plan) { plan.Bound-- }},
		{"offer early: 4 side came, 2 went somewhere", func(_ *order.Problem, plan *order.Plan) { plan.Orders[0].Units++ }},
		{"slot Tue: 4 of halves, it has 3", func(_ *order.Problem, plan *order.Plan) { plan.Orders[0].Units++ }},
		{"offer early: 2 of halves, it has 1", func(p *order.Problem, _ *order.Plan) { p.Offers[0].Caps[0].N = 1 }},
		{"no such line, or twice", func(_ *order.Problem, plan *order.Plan) { plan.Orders = append(plan.Orders, plan.Orders[0]) }},
		{"offer past does not sell a whole", func(_ *order.Problem, plan *order.Plan) { plan.Orders[0].Offer = "past" }},
		{"offer past had to be ordered by day -9", func(_ *order.Problem, plan *order.Plan) {
			plan.Orders = append(plan.Orders, order.Order{Offer: "past", Form: "half", Units: 1})
		}},
		{"class bacon gets 1 belly, it needs 2", func(_ *order.Problem, plan *order.Plan) { plan.Uses[1].Pieces = 1 }},
		{"class bacon does not take belly frozen", func(p *order.Problem, _ *order.Plan) { p.Classes[1].FrozenOK = nil }},
		{"10 days from delivery, fresh is 1 to 4", func(_ *order.Problem, plan *order.Plan) { plan.Uses[1].Frozen = false }},
		{"10 days from delivery, frozen is 5 to 9", func(p *order.Problem, _ *order.Plan) { p.Kinds[1].FrozenMax = 9 }},
		{"10 days from delivery, it thaws 11", func(p *order.Problem, _ *order.Plan) { p.Classes[1].Thaw[0].N = 11 }},
		{"the freezer holds 4 on day 9, it has room for 3", func(p *order.Problem, _ *order.Plan) { p.Freezer.Except = map[int]int{9: 3} }},
		{"the cooler holds 4 on day 9, it has room for 3", func(p *order.Problem, _ *order.Plan) { p.Cooler.Except = map[int]int{9: 3} }},
		{"the cooler holds 3 on day 4, it has room for 2", func(p *order.Problem, _ *order.Plan) { p.Cooler.Cap = 2 }},
		{"week 0: 1 ham to sell, the outlet takes 0", func(p *order.Problem, _ *order.Plan) { p.Kinds[2].Outlet[0] = 0 }},
		{"offer early: 2 ham came, 3 went somewhere", func(_ *order.Problem, plan *order.Plan) {
			plan.Waste = append(plan.Waste, order.Piece{Offer: "early", Kind: "ham", Pieces: 1})
		}},
		{"1 belly of offer early cannot be broken", func(_ *order.Problem, plan *order.Plan) {
			plan.Broken = append(plan.Broken, order.Piece{Offer: "early", Kind: "belly", Pieces: 1})
		}},
	} {
		p, plan := small(), a.Plan
		plan.Orders, plan.Uses, plan.Broken = slices.Clone(plan.Orders), slices.Clone(plan.Uses), slices.Clone(plan.Broken)
		c.do(&p, &plan)
		if wrong := order.Check(p, plan); !slices.ContainsFunc(wrong, func(w string) bool { return strings.Contains(w, c.want) }) {
			t.Errorf("wanted %q, the checker says %q", c.want, wrong)
		}
	}
}

// Among equally cheap plans the piece nearest the wanted days is bought: pork the
// latest, beef nearest seventeen days (house rule R19 of the demo shop).
func TestDaysWanted(t *testing.T) {
	for _, c := range []struct {
		target int
		want   string
	}{{0, "c"}, {17, "b"}, {30, "a"}} {
		p := order.Problem{
			Kinds:   []order.Kind{{Name: "hindquarter", FreshMin: 10, FreshMax: 40, Target: c.target}},
			Forms:   []order.Form{{Name: "quarter", Gives: []order.Count{{Name: "hindquarter", N: 1}}, Group: "beef", Size: 1}},
			Classes: []order.Class{{ID: "one", Day: 40, Demand: []order.Count{{Name: "hindquarter", N: 1}}}},
		}
		for i, id := range []string{"a", "b", "c"} { // 32, 18 and 12 days before
			p.Offers = append(p.Offers, order.Offer{ID: id, Day: []int{8, 22, 28}[i], Caps: []order.Count{{Name: "beef", N: 2}},
				Prices: []order.Price{{Form: "quarter", Unit: 100}}})
		}
		for _, plans := range []int{1, 2, 3} {
			a, err := order.Solve(p, order.Options{Plans: plans, Near: 3000})
			if err != nil {
				t.Fatal(err)
			}
			seen := map[string]bool{a.Uses[0].Offer: true}
			for _, n := range a.Next {
				if seen[n.Uses[0].Offer] || n.Cost != 100 || !n.Proven {
					t.Errorf("target %d, %d plans: next %+v", c.target, plans, n)
				}
				seen[n.Uses[0].Offer] = true
			}
			if a.Uses[0].Offer != c.want || len(seen) != plans {
				t.Errorf("target %d, %d plans: %v, want of %s; %v", c.target, plans, a.Uses, c.want, seen)
			}
		}
	}
}
