package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

type buyingInput struct {
	Count string `query:"count" enum:"sold,expected,full" default:"expected" doc:"Which seats are counted."`
}

type buyingOutput struct{ Body BuyingOut }

// BuyingOut is what to order for all classes to come.
type BuyingOut struct {
	Count   string          `json:"count"`
	Mark    string          `json:"mark" doc:"Names what the plan rests on; ordering names it again."`
	Species []BuyingSpecies `json:"species"`
}

// BuyingSpecies is the plan of one species.
type BuyingSpecies struct {
	Species string        `json:"species"`
	Orders  []BuyingOrder `json:"orders"`
	Bought  unit.Money    `json:"bought"`
	Sold    unit.Money    `json:"sold" doc:"What is left and can be sold brings."`
	Cost    unit.Money    `json:"cost"`
	Bound   unit.Money    `json:"bound" doc:"No plan costs less."`
	Proven  bool          `json:"proven"`
	Unfed   []UnfedClass  `json:"unfed,omitempty"`
	Next    []BuyingNext  `json:"next,omitempty" doc:"The next best plans."`
	Problem string        `json:"problem,omitempty"`
}

// BuyingOrder is one order of the plan.
type BuyingOrder struct {
	Kill    unit.Day     `json:"kill"`
	Deliver unit.Day     `json:"deliver"`
	OrderBy unit.Instant `json:"order_by"`
	Farm    string       `json:"farm"`
	Animals int          `json:"animals"`
	Classes []string     `json:"classes"`
	Cost    unit.Money   `json:"cost"`
	Why     []string     `json:"why"`
}

// UnfedClass is a class that gets no meat, and why.
type UnfedClass struct {
	Class string `json:"class"`
	Why   string `json:"why"`
}

// BuyingNext is another plan.
type BuyingNext struct {
	More unit.Money `json:"more"`
	Text string     `json:"text"`
}

func buyingFrom(p *store.BuyingPlan) *buyingOutput {
	out := &buyingOutput{BuyingOut{Count: p.Level.String(), Mark: p.Mark, Species: []BuyingSpecies{}}}
	for _, sp := range p.Species {
		o := BuyingSpecies{Species: sp.Species, Orders: []BuyingOrder{}, Bought: sp.Bought, Sold: sp.Sold, Cost: sp.Cost, Bound: sp.Bound, Proven: sp.Proven, Problem: sp.Problem}
		for _, l := range sp.Orders {
			o.Orders = append(o.Orders, BuyingOrder{l.Kill, l.Deliver, l.OrderBy, l.Farm, l.Animals, list(l.Classes), l.Cost, list(l.Why)})
		}
		for _, u := range sp.Unfed {
			o.Unfed = append(o.Unfed, UnfedClass{u.Code, u.Why})
		}
		for _, n := range sp.Next {
			o.Next = append(o.Next, BuyingNext(n))
		}
		out.Body.Species = append(out.Body.Species, o)
	}
	return out
}

type placeBuyingInput struct {
	Key  string `header:"Idempotency-Key" required:"true" minLength:"1" maxLength:"100"`
	Body struct {
		Count string `json:"count" enum:"sold,expected,full"`
		Mark  string `json:"mark" minLength:"1" maxLength:"64" doc:"Of the plan looked at."`
		Ask   bool   `json:"ask,omitempty" doc:"Ask the farms too; else the orders are only drafted."`
	}
}

type placedOutput struct {
	Body struct {
		Orders []int `json:"orders" doc:"Numbers; none when the same key was sent before."`
	}
}

// levelNamed reads a count of seats; the schema has seen to its being one of three.
func levelNamed(word string) demand.Level {
	for _, l := range []demand.Level{demand.Sold, demand.Full} {
		if l.String() == word {
			return l
		}
	}
	return demand.Expected
}

// buyingOperations plan the orders of all classes to come and place them together.
func (a *Server) buyingOperations() {
	owner := []shop.Role{shop.Owner}
	operation(a, http.MethodGet, "/buying", "buying", "What to order for all classes to come, cheapest after selling what is left", owner,
		func(ctx context.Context, _ shop.Actor, in *buyingInput) (*buyingOutput, error) {
			p, err := a.Store.BuyingPlan(ctx, levelNamed(in.Count))
			if err != nil {
				return nil, err
			}
			return buyingFrom(p), nil
		})
	operation(a, http.MethodPost, "/buying", "place-buying", "Draft every order of the plan, and ask the farms", owner,
		func(ctx context.Context, by shop.Actor, in *placeBuyingInput) (*placedOutput, error) {
			b := in.Body
			once, err := onceOf(in.Key, b)
			if err != nil {
				return nil, err
			}
			orders, err := a.Store.PlaceBuying(ctx, by, levelNamed(b.Count), b.Mark, b.Ask, once)
			if err != nil {
				return nil, err
			}
			out := &placedOutput{}
			out.Body.Orders = []int{}
			for _, o := range orders {
				out.Body.Orders = append(out.Body.Orders, o.Number)
			}
			return out, nil
		})
}
