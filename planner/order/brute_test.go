package order_test

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"flitchbook/planner/order"
	"flitchbook/planner/steadytest"
	"flitchbook/planner/unit"
)

// Every way to buy and to use what is bought, tried one by one: the checker says
// which hold. The cheapest of each purchase must be what Solve finds, in order.
func TestSolveAgreesWithTryingEverything(t *testing.T) {
	steadytest.Runs(t, "500")
	fed, frozen := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t, 2, 2)
		want := everything(p)
		var costs []unit.Money
		for _, c := range want {
			costs = append(costs, c)
		}
		slices.Sort(costs)
		a, err := order.Solve(p, order.Options{Plans: 3})
		if len(costs) == 0 {
			if !errors.Is(err, order.ErrNoPlan) {
				t.Fatalf("nothing feeds these classes, but: %v, %+v", err, a)
			}
			return
		}
		if err != nil {
			t.Fatalf("%v, but there are plans costing %v", err, costs)
		}
		fed++
		plans := append([]order.Plan{a.Plan}, a.Next...)
		if len(plans) != min(3, len(costs)) {
			t.Fatalf("%d plans, want %d of %v", len(plans), min(3, len(costs)), costs)
		}
		for i, plan := range plans {
			if plan.Cost != costs[i] || !plan.Proven || want[bought(plan.Orders)] != plan.Cost {
				t.Fatalf("plan %d costs %s (proven %v, by hand %s), want %s of %v", i, plan.Cost, plan.Proven, want[bought(plan.Orders)], costs[i], costs)
			}
			for _, u := range plan.Uses {
				if u.Frozen {
					frozen++
				}
			}
		}
	})
	if fed < 40 || frozen < 10 {
		t.Errorf("%d problems had a plan, %d pieces were frozen: too few to say anything", fed, frozen)
	}
}

func bought(orders []order.Order) string {
	var s []string
	for _, o := range orders {
		s = append(s, fmt.Sprint(o))
	}
	slices.Sort(s)
	return fmt.Sprint(s)
}

// everything is the least cost of each purchase that has any plan.
func everything(p order.Problem) map[string]unit.Money {
	best := map[string]unit.Money{}
	var orders []order.Order
	var buy func(o, f int)
	buy = func(o, f int) {
		if o == len(p.Offers) {
			if c, ok := cheapest(p, orders); ok {
				best[bought(orders)] = c
			}
			return
		}
		if f == len(p.Offers[o].Prices) {
			buy(o+1, 0)
			return
		}
		buy(o, f+1)
		name := p.Offers[o].Prices[f].Form
		for n := 1; n <= 3; n++ {
			for _, form := range p.Forms {
				if form.Name == name && n*form.Size <= cap(p.Offers[o], form.Group) {
					orders = append(orders, order.Order{Offer: p.Offers[o].ID, Form: name, Units: n})
					buy(o, f+1)
					orders = orders[:len(orders)-1]
				}
			}
		}
	}
	buy(0, 0)
	return best
}

func cap(o order.Offer, group string) int {
	for _, c := range o.Caps {
		if c.Name == group {
			return c.N
		}
	}
	return 0
}

// cheapest tries every way to hand out what was bought.
func cheapest(p order.Problem, orders []order.Order) (least unit.Money, ok bool) {
	type need struct {
		class, kind string
		left        int
	}
	var needs []need
	for _, c := range p.Classes {
		for _, d := range c.Demand {
			needs = append(needs, need{c.ID, d.Name, d.N})
		}
	}
	var uses []order.Use
	var hand func(i, o int, cold bool, left int)
	hand = func(i, o int, cold bool, left int) {
		if i == len(needs) {
			plan := leftovers(p, orders, uses)
			if len(order.Check(p, plan)) == 0 && (!ok || plan.Cost < least) {
				least, ok = plan.Cost, true
			}
			return
		}
		if left == 0 {
			next := 0
			if i+1 < len(needs) {
				next = needs[i+1].left
			}
			hand(i+1, 0, false, next)
			return
		}
		if o == len(p.Offers) {
			return
		}
		next, then := o, true
		if cold {
			next, then = o+1, false
		}
		hand(i, next, then, left)
		if !slices.ContainsFunc(orders, func(r order.Order) bool { return r.Offer == p.Offers[o].ID }) || !days(p, p.Offers[o].Day, needs[i].class, needs[i].kind, cold) {
			return
		}
		for n := 1; n <= left; n++ {
			uses = append(uses, order.Use{Offer: p.Offers[o].ID, Class: needs[i].class, Kind: needs[i].kind, Pieces: n, Frozen: cold})
			hand(i, next, then, left-n)
			uses = uses[:len(uses)-1]
		}
	}
	first := 0
	if len(needs) > 0 {
		first = needs[0].left
	}
	hand(0, 0, false, first)
	return least, ok
}

// days only saves trying what the checker would refuse anyway.
func days(p order.Problem, day int, class, kind string, cold bool) bool {
	for _, c := range p.Classes {
		for _, k := range p.Kinds {
			if c.ID == class && k.Name == kind {
				return cold == (c.Day-day > k.FreshMax) && c.Day >= day
			}
		}
	}
	return false
}

// leftovers completes a plan: what no class got is broken, sold as far as the outlet
// goes, or over. A side may also be sold whole in place of its parts, or kept: all
// ways are tried by the one that sells best.
func leftovers(p order.Problem, orders []order.Order, uses []order.Use) order.Plan {
	plan := order.Plan{Orders: orders, Uses: uses}
	have := map[[2]string]int{}
	for _, r := range orders {
		for _, f := range p.Forms {
			if f.Name == r.Form {
				for _, g := range f.Gives {
					have[[2]string{r.Offer, g.Name}] += g.N * r.Units
				}
			}
		}
		for _, o := range p.Offers {
			for _, pr := range o.Prices {
				if o.ID == r.Offer && pr.Form == r.Form {
					plan.Cost += pr.Unit * unit.Money(r.Units)
				}
			}
		}
	}
	for _, o := range p.Offers {
		if slices.ContainsFunc(orders, func(r order.Order) bool { return r.Offer == o.ID }) {
			plan.Cost += o.Drop
		}
	}
	for _, u := range uses {
		have[[2]string{u.Offer, u.Kind}] -= u.Pieces
		if u.Frozen {
			for _, k := range p.Kinds {
				if k.Name == u.Kind {
					plan.Cost += k.FreezeCost * unit.Money(u.Pieces)
				}
			}
		}
	}
	// How many of each offer's sides are broken: every number is tried.
	var bestPlan order.Plan
	found := false
	var breaking func(o int, broken []order.Piece)
	breaking = func(o int, broken []order.Piece) {
		if o == len(p.Offers) {
			q := sell(p, plan, have, broken)
			if !found || q.Cost < bestPlan.Cost {
				bestPlan, found = q, true
			}
			return
		}
		id := p.Offers[o].ID
		breaking(o+1, broken)
		for n := 1; n <= have[[2]string{id, "side"}]; n++ {
			breaking(o+1, append(slices.Clone(broken), order.Piece{Offer: id, Kind: "side", Pieces: n}))
		}
	}
	breaking(0, nil)
	bestPlan.Bound, bestPlan.Proven = bestPlan.Cost, true
	return bestPlan
}

func sell(p order.Problem, plan order.Plan, have map[[2]string]int, broken []order.Piece) order.Plan {
	left := map[[2]string]int{}
	for k, n := range have {
		left[k] = n
	}
	plan.Broken = broken
	for _, b := range broken {
		left[[2]string{b.Offer, "side"}] -= b.Pieces
		left[[2]string{b.Offer, "belly"}] += b.Pieces
		left[[2]string{b.Offer, "ham"}] += b.Pieces
	}
	out := map[[2]string]int{}
	short := false
	for _, o := range p.Offers {
		for _, k := range p.Kinds {
			n := left[[2]string{o.ID, k.Name}]
			if n < 0 {
				short = true
				continue
			}
			week := [2]string{k.Name, fmt.Sprint(o.Day / 7)}
			most := 0
			if w := o.Day / 7; w < len(k.Outlet) {
				most = k.Outlet[w] - out[week]
			}
			if s := min(n, most); s > 0 && k.Value > 0 {
				out[week] += s
				n -= s
				plan.Sold = append(slices.Clone(plan.Sold), order.Piece{Offer: o.ID, Kind: k.Name, Pieces: s})
				plan.Cost -= k.Value * unit.Money(s)
			}
			if n > 0 {
				plan.Waste = append(slices.Clone(plan.Waste), order.Piece{Offer: o.ID, Kind: k.Name, Pieces: n})
			}
		}
	}
	if short { // too few of something: no plan; the checker will say so
		plan.Cost += 1 << 40
	}
	return plan
}
