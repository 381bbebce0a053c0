package order_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"flitchbook/planner/integer"
	"flitchbook/planner/order"
	"flitchbook/planner/unit"
)

// Eight invented seasons whose optima two solvers from outside have proven
// (testdata/order/README.md). Each is reached and proven here, with the next best two.
func TestOptima(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/order/optima.json")
	if err != nil {
		t.Fatal(err)
	}
	var optima map[string]int64
	if err := json.Unmarshal(raw, &optima); err != nil {
		t.Fatal(err)
	}
	if len(optima) != 8 {
		t.Fatalf("%d optima, want 8", len(optima))
	}
	for name, want := range optima {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := instance(t, name)
			a, err := order.Solve(p, order.Options{Plans: 3})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d pivots", a.Work)
			if a.Status != order.Proven || a.Cost != unit.Money(want) || a.Bound != unit.Money(want) || !a.Proven {
				t.Errorf("%s: cost %d, bound %d; want %d proven", a.Status, a.Cost, a.Bound, want)
			}
			seen := map[string]bool{fmt.Sprint(a.Orders): true}
			last := a.Cost
			for i, n := range a.Next {
				if seen[fmt.Sprint(n.Orders)] || n.Cost < last || !n.Proven {
					t.Errorf("next plan %d: cost %d, bound %d, orders %v", i+1, n.Cost, n.Bound, n.Orders)
				}
				seen[fmt.Sprint(n.Orders)], last = true, n.Cost
				if wrong := order.Check(p, n); len(wrong) > 0 {
					t.Errorf("next plan %d: %v", i+1, wrong)
				}
			}
			if len(a.Next) != 2 {
				t.Errorf("%d next plans, want 2", len(a.Next))
			}
			if wrong := order.Check(p, a.Plan); len(wrong) > 0 {
				t.Error(wrong)
			}
		})
	}
}

// A limit gives the best plan so far with its honest gap.
func TestLimited(t *testing.T) {
	p := instance(t, "op-30-s4")
	for _, work := range []int64{1500, 4000} {
		a, err := order.Solve(p, order.Options{Limit: integer.Limit{Work: work}})
		if err != nil {
			if err != order.ErrNoneYet {
				t.Errorf("%d pivots: %v", work, err)
			}
			continue
		}
		if a.Status != order.Limit || a.Proven || a.Bound > 576640 || a.Cost < 576640 {
			t.Errorf("%d pivots: %s, cost %d, bound %d", work, a.Status, a.Cost, a.Bound)
		}
	}
	calls := 0
	a, err := order.Solve(p, order.Options{Limit: integer.Limit{Stop: func() bool { calls++; return calls > 150 }}})
	if err != nil || a.Status != order.Limit || a.Cost < 576640 || a.Bound > 576640 {
		t.Errorf("stopped: %v, %s, cost %d, bound %d", err, a.Status, a.Cost, a.Bound)
	}
}

// season is the shape of the files.
type season struct {
	Classes []struct {
		ID, Day  int
		Demand   map[string]int
		FrozenOK []string `json:"frozen_ok"`
	}
	Offers []struct {
		ID, Farm, Kill, Day int
		Price               map[string]int64
		Halves              int `json:"pig_halves_cap"`
		Boxes               int `json:"box_cap"`
		Drop                int64
	}
	FreshMin   int              `json:"fresh_min"`
	FreshMax   int              `json:"fresh_max"`
	FrozenMax  int              `json:"frozen_max"`
	FreezeCost map[string]int64 `json:"freeze_cost"`
	Shelf      map[string]int   `json:"shelf"`
	Cooler     int              `json:"cooler_cap"`
	Freezer    int              `json:"freezer_cap"`
	Value      map[string]int64 `json:"value"`
	Retail     map[string][]int `json:"retail_cap"`
}

func instance(t testing.TB, name string) order.Problem {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("../../testdata/order", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var in season
	if err := json.Unmarshal(raw, &in); err != nil {
		t.Fatal(err)
	}
	var p order.Problem
	cuts := []string{"belly", "shoulder", "loin", "leg"}
	side := order.Kind{Name: "side", Space: in.Shelf["side"], FreshMin: in.FreshMin, FreshMax: in.FreshMax}
	for _, k := range cuts {
		side.BreaksInto = append(side.BreaksInto, order.Count{Name: k, N: 1})
	}
	p.Kinds = append(p.Kinds, side)
	for _, k := range cuts {
		p.Kinds = append(p.Kinds, order.Kind{Name: k, Space: in.Shelf[k], FreshMin: in.FreshMin, FreshMax: in.FreshMax, FrozenMax: in.FrozenMax,
			FreezeCost: unit.Money(in.FreezeCost[k]), Value: unit.Money(in.Value[k]), Outlet: in.Retail[k]})
	}
	p.Forms = pigForms()
	for _, o := range in.Offers {
		offer := order.Offer{ID: fmt.Sprint(o.ID), Farm: fmt.Sprint(o.Farm), Kill: o.Kill, Day: o.Day, Drop: unit.Money(o.Drop),
			Caps: []order.Count{{Name: "halves", N: o.Halves}, {Name: "boxes", N: o.Boxes}}}
		for _, f := range p.Forms {
			offer.Prices = append(offer.Prices, order.Price{Form: f.Name, Unit: unit.Money(o.Price[f.Name])})
		}
		p.Offers = append(p.Offers, offer)
	}
	for _, c := range in.Classes {
		cl := order.Class{ID: fmt.Sprint(c.ID), Day: c.Day, FrozenOK: c.FrozenOK}
		for _, k := range p.Kinds {
			if n := c.Demand[k.Name]; n > 0 {
				cl.Demand = append(cl.Demand, order.Count{Name: k.Name, N: n})
			}
		}
		p.Classes = append(p.Classes, cl)
	}
	p.Cooler.Cap, p.Freezer.Cap = in.Cooler, in.Freezer
	return p
}

func pigForms() []order.Form {
	return []order.Form{
		{Name: "whole", Gives: []order.Count{{Name: "side", N: 2}}, Group: "halves", Size: 2},
		{Name: "half", Gives: []order.Count{{Name: "side", N: 1}}, Group: "halves", Size: 1},
		{Name: "bellybox", Gives: []order.Count{{Name: "belly", N: 6}}, Group: "boxes", Size: 1},
	}
}
