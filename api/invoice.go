package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/invoice"
	"flitchbook/planner/unit"
)

type invoiceInput struct {
	Number int `path:"number" minimum:"1"`
	Body   struct {
		From    string      `json:"from" enum:"farm,plant" doc:"Whose bill it is."`
		Number  string      `json:"number,omitempty" maxLength:"40" doc:"As printed on it."`
		Day     unit.Day    `json:"day,omitempty" doc:"Printed on it."`
		Basis   string      `json:"basis,omitempty" enum:"hot,cold" doc:"The weight a farm's bill names."`
		Animals int         `json:"animals" minimum:"0" maximum:"100"`
		Weight  unit.Weight `json:"weight,omitempty"`
		Price   unit.Money  `json:"price,omitempty" doc:"A pound."`
		Meat    unit.Money  `json:"meat" doc:"Of a plant's bill: its kill fees."`
		Haul    unit.Money  `json:"haul,omitempty"`
		Other   unit.Money  `json:"other,omitempty"`
		Words   string      `json:"words,omitempty" maxLength:"120" doc:"What other is for."`
		Total   unit.Money  `json:"total" doc:"As printed, also when its lines do not add up to it."`
	}
}

type threeWayOutput struct {
	Body struct {
		Asked     int           `json:"asked"`
		Promised  int           `json:"promised"`
		Killed    int           `json:"killed"`
		Condemned int           `json:"condemned"`
		Delivered int           `json:"delivered"`
		HungHot   unit.Weight   `json:"hung_hot" doc:"By the plant's paper, condemned ones left out."`
		HungCold  unit.Weight   `json:"hung_cold" doc:"By the shop's scale."`
		Shrink    unit.Ratio    `json:"usual_shrink"`
		DueFarm   unit.Money    `json:"due_farm" doc:"Hot weight at the price, and haul."`
		DuePlant  unit.Money    `json:"due_plant" doc:"Kill fees, condemned included."`
		Bills     []invoicedOut `json:"bills" doc:"The last of each party."`
		Typed     int           `json:"typed" doc:"How many were typed in all; none is overwritten."`
		KeepUntil unit.Day      `json:"keep_until,omitempty"`
	}
}

type invoicedOut struct {
	From     string       `json:"from"`
	Number   string       `json:"number,omitempty"`
	Basis    string       `json:"basis,omitempty"`
	Weight   unit.Weight  `json:"weight"`
	Total    unit.Money   `json:"total"`
	Agrees   bool         `json:"agrees"`
	Pounds   unit.Weight  `json:"weight_difference" doc:"Billed less hung, of the weight it names."`
	Dollars  unit.Money   `json:"money_difference" doc:"Billed less due."`
	Findings []findingOut `json:"findings"`
	TypedAt  unit.Instant `json:"typed_at"`
}

type findingOut struct {
	OK   bool   `json:"ok" doc:"false: look at it. true: it explains."`
	Text string `json:"text"`
}

func threeWayFrom(v *store.ThreeWay) *threeWayOutput {
	out, s := &threeWayOutput{}, v.Slip
	b := &out.Body
	b.Asked, b.Promised, b.Killed, b.Condemned, b.Delivered = s.Asked, s.Promised, s.Killed, s.Condemned, s.Delivered
	b.HungHot, b.HungCold, b.Shrink, b.DueFarm, b.DuePlant = s.HungHot, s.HungCold, s.Shrink, s.DueFarm(), s.DuePlant()
	b.Bills, b.Typed, b.KeepUntil = []invoicedOut{}, len(v.Past), v.Keep
	for _, i := range v.Bills {
		o := invoicedOut{From: string(i.Party), Number: i.Number, Basis: string(i.Basis), Weight: i.Weight, Total: i.TotalCents,
			Agrees: i.Result.OK(), Pounds: shown(i.Result.Pounds), Dollars: i.Result.Dollars, Findings: []findingOut{}, TypedAt: i.TypedAt}
		for _, f := range i.Result.Findings {
			o.Findings = append(o.Findings, findingOut(f))
		}
		b.Bills = append(b.Bills, o)
	}
	return out
}

type yieldNoteOutput struct {
	Body struct {
		Animals []string     `json:"animals"`
		Hot     unit.Weight  `json:"hot"`
		Cold    unit.Weight  `json:"cold"`
		Shrink  unit.Ratio   `json:"shrink"`
		Slabs   int          `json:"slabs"`
		Bellies string       `json:"bellies,omitempty" doc:"How they cut, in words."`
		Season  string       `json:"season,omitempty"`
		SentAt  unit.Instant `json:"sent_at,omitempty"`
	}
}

func (a *Server) invoiceOperations() {
	owner := []shop.Role{shop.Owner}
	three := func(ctx context.Context, number int) (*threeWayOutput, error) {
		v, err := a.Store.ThreeWay(ctx, number)
		if err != nil {
			return nil, err
		}
		return threeWayFrom(v), nil
	}
	operation(a, http.MethodGet, "/orders/{number}/invoices", "three-way", "Asked, hung and invoiced", owner,
		func(ctx context.Context, _ shop.Actor, in *orderPath) (*threeWayOutput, error) {
			return three(ctx, in.Number)
		})
	operation(a, http.MethodPost, "/orders/{number}/invoices", "type-invoice", "Type in a bill as it is printed", owner,
		func(ctx context.Context, by shop.Actor, in *invoiceInput) (*threeWayOutput, error) {
			id, err := a.Store.OrderNumbered(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			b := in.Body
			err = a.Store.TypeInvoice(ctx, by, id, shop.Invoice{Party: shop.Biller(b.From), Number: b.Number, Day: b.Day, Basis: invoice.Basis(b.Basis), Animals: b.Animals,
				Weight: b.Weight, PriceCents: b.Price, MeatCents: b.Meat, HaulCents: b.Haul, OtherCents: b.Other, OtherWords: b.Words, TotalCents: b.Total})
			if err != nil {
				return nil, err
			}
			return three(ctx, in.Number)
		})
	note := func(ctx context.Context, number int) (*yieldNoteOutput, error) {
		n, err := a.Store.YieldNoteOf(ctx, number)
		if err != nil {
			return nil, err
		}
		out := &yieldNoteOutput{}
		b := &out.Body
		b.Animals, b.Hot, b.Cold, b.Shrink, b.Slabs, b.Bellies, b.Season, b.SentAt = []string{}, n.Hot, n.Cold, n.Shrink, n.Slabs, n.Tells, n.SeasonText(), n.SentAt
		for _, an := range n.Animals {
			b.Animals = append(b.Animals, an.Line())
		}
		return out, nil
	}
	operation(a, http.MethodGet, "/orders/{number}/yield", "yield-note", "What an order's animals gave, as the farm is told", owner,
		func(ctx context.Context, _ shop.Actor, in *orderPath) (*yieldNoteOutput, error) {
			return note(ctx, in.Number)
		})
	operation(a, http.MethodPost, "/orders/{number}/yield/send", "send-yield-note", "Mail the farm what its animals gave, once", owner,
		func(ctx context.Context, by shop.Actor, in *orderPath) (*yieldNoteOutput, error) {
			id, err := a.Store.OrderNumbered(ctx, in.Number)
			if err == nil {
				err = a.Store.SendYieldNote(ctx, by, id)
			}
			if err != nil {
				return nil, err
			}
			return note(ctx, in.Number)
		})
}
