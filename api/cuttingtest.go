package api

import (
	"context"
	"math"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

type cuttingTestBody struct {
	Name       string        `json:"name" minLength:"1" maxLength:"80"`
	Day        unit.Day      `json:"day,omitempty" doc:"Today when left out."`
	Farm       string        `json:"farm,omitempty" doc:"Farm and animal, such as harl/pork."`
	WholeSide  bool          `json:"whole_side,omitempty" doc:"A whole cold side of that farm: it counts for the farm's own shares."`
	Bought     unit.Weight   `json:"bought"`
	Price      unit.Money    `json:"price" doc:"A pound, as bought."`
	UsableName string        `json:"usable_name,omitempty" maxLength:"80"`
	Usable     unit.Weight   `json:"usable"`
	Parts      []testPartOut `json:"parts,omitempty" maxItems:"60"`
	Cooked     unit.Weight   `json:"cooked,omitempty"`
	Carving    unit.Weight   `json:"carving,omitempty"`
	Portion    unit.Weight   `json:"portion,omitempty"`
	Note       string        `json:"note,omitempty" maxLength:"500"`
}

type testPartOut struct {
	Name   string      `json:"name" minLength:"1" maxLength:"80"`
	Weight unit.Weight `json:"weight"`
	Price  unit.Money  `json:"price,omitempty" doc:"A pound, as if bought in."`
}

type cuttingTestInput struct {
	Key  string `header:"Idempotency-Key" maxLength:"100"`
	Body cuttingTestBody
}

type cuttingTestOutput struct{ Body cuttingTestOut }

type cuttingTestsOutput struct {
	Body struct {
		Tests []cuttingTestOut `json:"tests" doc:"The newest first."`
	}
}

type cuttingTestOut struct {
	ID       int64       `json:"id"`
	Name     string      `json:"name"`
	Day      unit.Day    `json:"day"`
	Farm     string      `json:"farm,omitempty"`
	Cost     unit.Money  `json:"cost"`
	Parts    unit.Money  `json:"by_products"`
	Net      unit.Money  `json:"net"`
	Loss     unit.Weight `json:"loss_in_cutting"`
	Saleable unit.Weight `json:"saleable"`
	Yield    unit.Ratio  `json:"yield"`
	PerPound unit.Money  `json:"per_pound"`
	Factor   float64     `json:"factor"`
	Portion  unit.Money  `json:"portion_cost,omitempty"`
	Notes    []string    `json:"notes"`
}

func cuttingTestFrom(v store.CuttingTestView) cuttingTestOut {
	r := v.Result
	return cuttingTestOut{ID: v.ID, Name: v.Name, Day: v.Day, Farm: v.Farm, Cost: r.Cost, Parts: r.Secondary, Net: r.Net, Loss: shown(r.Loss), Saleable: shown(r.Saleable),
		Yield: r.Yield, PerPound: r.PerPound, Factor: math.Round(r.Factor.Float()*10_000) / 10_000, Portion: r.PortionCost, Notes: append([]string{}, r.Notes...)}
}

// record makes the shop's record of what was sent.
func (b cuttingTestBody) record(farms []store.FarmAnimal) (shop.CuttingTest, error) {
	n := shop.CuttingTest{Name: b.Name, Day: b.Day, WholeSide: b.WholeSide, Bought: b.Bought, Price: b.Price, UsableName: b.UsableName, Usable: b.Usable,
		Cooked: b.Cooked, Carving: b.Carving, Portion: b.Portion, Note: b.Note}
	for _, f := range farms {
		if f.Value() == b.Farm {
			n.FarmID, n.Species = f.FarmID, f.Species
		}
	}
	if b.Farm != "" && n.FarmID == 0 {
		var w shop.Wrong
		w.Add("farm", "Name a farm and its animal, such as harl/pork.")
		return n, w.Err()
	}
	var parts []carcass.TestPart
	for _, p := range b.Parts {
		parts = append(parts, carcass.TestPart{Name: p.Name, Weight: p.Weight, Price: p.Price})
	}
	return n, n.SetParts(parts)
}

func (a *Server) cuttingTestOperations() {
	owner := []shop.Role{shop.Owner}
	operation(a, http.MethodGet, "/cutting-tests", "cutting-tests", "The cutting tests and what they say", owner,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*cuttingTestsOutput, error) {
			tests, err := a.Store.CuttingTests(ctx)
			if err != nil {
				return nil, err
			}
			out := &cuttingTestsOutput{}
			out.Body.Tests = []cuttingTestOut{}
			for _, t := range tests {
				out.Body.Tests = append(out.Body.Tests, cuttingTestFrom(t))
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/cutting-tests", "add-cutting-test", "Write a cutting test down", owner,
		func(ctx context.Context, by shop.Actor, in *cuttingTestInput) (*cuttingTestOutput, error) {
			farms, err := a.Store.FarmSpecies(ctx)
			if err != nil {
				return nil, err
			}
			n, err := in.Body.record(farms)
			if err != nil {
				return nil, err
			}
			once, err := onceOf(in.Key, in.Body)
			if err != nil {
				return nil, err
			}
			id, err := a.Store.AddCuttingTest(ctx, by, n, once)
			if err != nil {
				return nil, err
			}
			v, err := a.Store.CuttingTest(ctx, id)
			if err != nil {
				return nil, err
			}
			return &cuttingTestOutput{cuttingTestFrom(*v)}, nil
		})
}
