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

// drawProblem is a small shop: sides broken into bellies and hams, a box of bellies,
// beef hindquarters that come alone.
func drawProblem(t *rapid.T, offers, classes int) order.Problem {
	small := func(lo, hi int, what string) int { return rapid.IntRange(lo, hi).Draw(t, what) }
	cents := func(lo, hi int, what string) unit.Money { return unit.Money(small(lo, hi, what) * 50) }
	p := order.Problem{Forms: []order.Form{
		{Name: "whole", Gives: []order.Count{{Name: "side", N: 2}}, Group: "halves", Size: 2},
		{Name: "half", Gives: []order.Count{{Name: "side", N: 1}}, Group: "halves", Size: 1},
		{Name: "box", Gives: []order.Count{{Name: "belly", N: 2}}, Group: "boxes", Size: 1},
		{Name: "hindquarter", Gives: []order.Count{{Name: "beef hindquarter", N: 1}}, Group: "beef", Size: 1},
	}}
	fresh := small(1, 4, "fresh days")
	kind := func(name string, parts ...string) {
		k := order.Kind{Name: name, Space: small(0, 3, "space"), FreshMin: small(0, 1, "from"), FreshMax: fresh + small(0, 2, "to"),
			FreezeCost: cents(0, 4, "freezing"), Value: cents(0, 60, "value"), Target: small(0, 2, "target")}
		if name != "side" && name != "beef hindquarter" {
			k.FrozenMax = k.FreshMax + small(0, 12, "frozen")
		}
		for _, part := range parts {
			k.BreaksInto = append(k.BreaksInto, order.Count{Name: part, N: 1})
		}
		for range small(0, 3, "weeks") {
			k.Outlet = append(k.Outlet, small(0, 2, "outlet"))
		}
		p.Kinds = append(p.Kinds, k)
	}
	kind("side", "belly", "ham")
	kind("belly")
	kind("ham")
	kind("beef hindquarter")
	p.Slots = []order.Slot{{Name: "Tuesday", Group: "halves", Most: small(1, 4, "slots")}}
	p.Today = 3
	for i := range small(1, offers, "offers") {
		o := order.Offer{ID: fmt.Sprint("o", i), Day: small(2, 9, "day"), Drop: cents(0, 20, "haul"),
			Caps: []order.Count{{Name: "halves", N: small(0, 3, "halves")}, {Name: "boxes", N: small(0, 1, "boxes")}, {Name: "beef", N: small(0, 1, "beef")}},
			Prices: []order.Price{{Form: "whole", Unit: cents(40, 99, "whole")}, {Form: "half", Unit: cents(25, 60, "half")},
				{Form: "box", Unit: cents(20, 50, "box")}, {Form: "hindquarter", Unit: cents(40, 60, "hindquarter")}}}
		if rapid.Bool().Draw(t, "shares slots") {
			o.Slot = "Tuesday"
		}
		if rapid.IntRange(0, 3).Draw(t, "order by") == 0 {
			o.HasOrderBy, o.OrderBy = true, small(1, 6, "order-by")
		}
		p.Offers = append(p.Offers, o)
	}
	for i := range small(1, classes, "classes") {
		c := order.Class{ID: fmt.Sprint("c", i), Day: small(5, 14, "class day")}
		for _, k := range p.Kinds {
			if n := small(0, 2, k.Name); n > 0 && small(0, 3, "wanted") == 0 {
				c.Demand = append(c.Demand, order.Count{Name: k.Name, N: n})
			}
			if rapid.IntRange(0, 3).Draw(t, "frozen ok") > 0 {
				c.FrozenOK = append(c.FrozenOK, k.Name)
				if n := small(0, 5, "thaw"); n > 0 {
					c.Thaw = append(c.Thaw, order.Count{Name: k.Name, N: n})
				}
			}
		}
		c.OneOffer = small(0, 3, "one offer") == 0
		if small(0, 3, "from") == 0 {
			c.From = []string{}
			for _, o := range p.Offers {
				if rapid.Bool().Draw(t, "from it") {
					c.From = append(c.From, o.ID)
				}
			}
		}
		p.Classes = append(p.Classes, c)
	}
	p.Cooler.Cap, p.Freezer.Cap = small(4, 14, "cooler"), small(0, 9, "freezer")
	if rapid.Bool().Draw(t, "cooler changes") {
		p.Cooler.Except = map[int]int{small(5, 15, "that day"): small(0, 14, "then")}
	}
	return p
}

// best is the cost of the best plan, or none.
func best(t *rapid.T, p order.Problem) (unit.Money, bool) {
	a, err := order.Solve(p, order.Options{})
	if errors.Is(err, order.ErrNoPlan) {
		return 0, false
	}
	if err != nil {
		t.Fatal(err)
	}
	if a.Status != order.Proven {
		t.Fatalf("no limit was set, and yet: %+v", a)
	}
	return a.Cost, true
}

// nearest holds that looking for the nearest days costs no money, and brings no class's
// meat from further away in sum.
func nearest(t *rapid.T, p order.Problem, cost unit.Money) {
	days := func(o order.Options) (sum int) {
		a, err := order.Solve(p, o)
		if err != nil || a.Cost != cost || !a.Proven || a.Bound != cost {
			t.Fatalf("%+v: cost %s, bound %s, proven %v, %v; it is %s", o, a.Cost, a.Bound, a.Proven, err, cost)
		}
		for _, u := range a.Uses {
			c := p.Classes[slices.IndexFunc(p.Classes, func(c order.Class) bool { return c.ID == u.Class })]
			f := p.Offers[slices.IndexFunc(p.Offers, func(f order.Offer) bool { return f.ID == u.Offer })]
			k := p.Kinds[slices.IndexFunc(p.Kinds, func(k order.Kind) bool { return k.Name == u.Kind })]
			off := c.Day - f.Day
			if !u.Frozen {
				off -= k.Target
			}
			sum += max(off, -off) * u.Pieces
		}
		return sum
	}
	if plain, near := days(order.Options{}), days(order.Options{Near: 10_000}); near > plain {
		t.Fatalf("%d days off with Near, %d without", near, plain)
	}
}

// Laws that hold whatever the numbers.
func TestLaws(t *testing.T) {
	steadytest.Runs(t, "800")
	fed := 0
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t, 5, 5)
		cost, ok := best(t, p)
		if !ok {
			return
		}
		fed++
		nearest(t, p, cost)

		less := p
		less.Classes = slices.Clone(p.Classes)
		at := rapid.IntRange(0, len(p.Classes)-1).Draw(t, "class left out")
		less.Classes = slices.Delete(less.Classes, at, at+1)
		if c, ok := best(t, less); !ok || c > cost {
			t.Fatalf("without class %s it costs %s, with it %s", p.Classes[at].ID, c, cost)
		}

		more := p
		more.Cooler.Cap++
		more.Freezer.Cap++
		more.Offers = append(slices.Clone(p.Offers), order.Offer{ID: "one more", Day: 5, Prices: p.Offers[0].Prices, Caps: p.Offers[0].Caps})
		if c, ok := best(t, more); !ok || c > cost {
			t.Fatalf("with more room and one more offer it costs %s, else %s", c, cost)
		}

		turned := p
		turned.Classes, turned.Offers = slices.Clone(p.Classes), slices.Clone(p.Offers)
		slices.Reverse(turned.Classes)
		slices.Reverse(turned.Offers)
		if c, ok := best(t, turned); !ok || c != cost {
			t.Fatalf("listed the other way round it costs %s, else %s", c, cost)
		}
	})
	if fed < 50 {
		t.Errorf("only %d shops could be fed", fed)
	}
}

// Two groups planned together, with the room and caps of both, never cost more than
// planned apart.
func TestTogetherNeverDearer(t *testing.T) {
	steadytest.Runs(t, "600")
	fed := 0
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t, 4, 6)
		p.Cooler.Except = nil
		half := len(p.Classes) / 2
		a, b, all := p, p, p
		a.Classes, b.Classes = p.Classes[:half], p.Classes[half:]
		all.Cooler.Cap, all.Freezer.Cap = 2*p.Cooler.Cap, 2*p.Freezer.Cap
		all.Slots = []order.Slot{{Name: "Tuesday", Group: "halves", Most: 2 * p.Slots[0].Most}}
		all.Offers, all.Kinds = nil, nil
		twice := func(list []order.Count) (out []order.Count) {
			for _, c := range list {
				out = append(out, order.Count{Name: c.Name, N: 2 * c.N})
			}
			return out
		}
		for _, o := range p.Offers {
			o.Caps = twice(o.Caps)
			all.Offers = append(all.Offers, o)
		}
		for _, k := range p.Kinds {
			outlet := k.Outlet
			k.Outlet = nil
			for _, n := range outlet {
				k.Outlet = append(k.Outlet, 2*n)
			}
			all.Kinds = append(all.Kinds, k)
		}
		ca, ok1 := best(t, a)
		cb, ok2 := best(t, b)
		if !ok1 || !ok2 {
			return
		}
		fed++
		if c, ok := best(t, all); !ok || c > ca+cb {
			t.Fatalf("together %s, apart %s and %s", c, ca, cb)
		}
	})
	if fed < 40 {
		t.Errorf("only %d pairs could be fed", fed)
	}
}

func TestSameBytes(t *testing.T) {
	steadytest.Runs(t, "60")
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t, 5, 5)
		a, errA := order.Solve(p, order.Options{Plans: 3})
		b, errB := order.Solve(p, order.Options{Plans: 3})
		if fmt.Sprintf("%+v %v", a, errA) != fmt.Sprintf("%+v %v", b, errB) {
			t.Fatalf("%+v %v, then %+v %v", a, errA, b, errB)
		}
	})
}
