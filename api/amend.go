package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

// AmendOut is a dumped slab and what is made of it.
type AmendOut struct {
	Tag      string       `json:"tag"`
	Ref      string       `json:"ref"`
	Name     string       `json:"name"`
	Choice   string       `json:"choice,omitempty" enum:"again,class,money" doc:"None: nobody has chosen yet."`
	ChosenAt unit.Instant `json:"chosen_at,omitempty"`
	ChosenBy string       `json:"chosen_by,omitempty"`
	Waits    string       `json:"waits_for,omitempty" doc:"None when it is done."`
	From     string       `json:"meat_of,omitempty" doc:"Class whose delivery the meat comes out of."`
	Unsold   bool         `json:"seat_off_sale" doc:"A seat of that class came off sale for it."`
	New      string       `json:"new_tag,omitempty"`
	Back     unit.Money   `json:"back,omitempty"`
	Note     string       `json:"note,omitempty"`
}

type amendsOutput struct {
	Body struct {
		Slabs []AmendOut `json:"slabs" doc:"Those that wait first."`
	}
}

type amendInput struct {
	Tag  string `path:"tag" maxLength:"20"`
	Body struct {
		Choice string `json:"choice" enum:"again,class,money"`
	}
}

type settleAmendInput struct {
	Tag  string `path:"tag" maxLength:"20"`
	Body struct {
		Note string `json:"note" maxLength:"400" doc:"What was agreed with the party."`
	}
}

type againInput struct {
	Body struct {
		Tags []string `json:"tags" maxItems:"200" doc:"Dumped slabs; none: all whose party chose it."`
	}
}

type againOutput struct {
	Body struct {
		Made []string `json:"made" doc:"Tags of the new slabs."`
	}
}

type againPlanInput struct {
	Tags []string `query:"tags" doc:"Slabs on hold, or dumped."`
}

type againPlanOutput struct{ Body AgainPlanOut }

// AgainPlanOut is what curing slabs again takes and moves.
type AgainPlanOut struct {
	Slabs     int             `json:"slabs"`
	Free      int             `json:"free" doc:"Slabs nobody claims."`
	OffSale   []AgainSeatsOut `json:"seats_off_sale"`
	Short     int             `json:"short" doc:"No meat for so many."`
	Seal      unit.Day        `json:"seal_on,omitempty"`
	Earliest  unit.Day        `json:"unbag_from,omitempty"`
	Unbag     unit.Day        `json:"unbag_on,omitempty"`
	Ready     unit.Day        `json:"ready_about,omitempty"`
	Hooks     int             `json:"hooks" doc:"For class slabs on their smoke day."`
	HooksUsed int             `json:"hooks_taken" doc:"By the slabs cured again."`
	Beside    []string        `json:"beside" doc:"Parties that hang with them."`
	Slips     []AgainSlipOut  `json:"slips" doc:"Parties that would be ready on another day."`
}

// AgainSeatsOut is a class and its seats that come off sale.
type AgainSeatsOut struct {
	Class string `json:"class"`
	Seats int    `json:"seats"`
	Left  int    `json:"left" doc:"Still on sale then."`
}

// AgainSlipOut is a party that would be ready on another day.
type AgainSlipOut struct {
	Party string   `json:"party"`
	Slabs int      `json:"slabs"`
	Old   unit.Day `json:"old"`
	New   unit.Day `json:"new,omitempty"`
}

func (a *Server) amendOperations() {
	staff, owner := []shop.Role{shop.Staff}, []shop.Role{shop.Owner}
	list := func(ctx context.Context) (*amendsOutput, error) {
		all, err := a.Store.Amends(ctx)
		if err != nil {
			return nil, err
		}
		out := &amendsOutput{}
		out.Body.Slabs = []AmendOut{}
		for _, v := range all {
			out.Body.Slabs = append(out.Body.Slabs, AmendOut{v.Tag, v.Ref(), v.Name, string(v.Choice), v.ChosenAt, v.ChosenBy, v.Waits(), v.From, v.Unsold, v.NewTag, v.Cents, v.Note})
		}
		return out, nil
	}
	operation(a, http.MethodGet, "/dumped", "list-dumped", "Dumped slabs and what their people chose", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*amendsOutput, error) { return list(ctx) })
	operation(a, http.MethodGet, "/dumped/plan", "plan-again", "What curing slabs again would take and move", staff,
		func(ctx context.Context, _ shop.Actor, in *againPlanInput) (*againPlanOutput, error) {
			p, err := a.Store.AgainPlan(ctx, in.Tags)
			if err != nil {
				return nil, err
			}
			return &againPlanOutput{againPlanOut(p)}, nil
		})
	operation(a, http.MethodPost, "/dumped/{tag}", "choose-for-party", "Enter what a party chooses for its dumped slab", staff,
		func(ctx context.Context, by shop.Actor, in *amendInput) (*amendsOutput, error) {
			if err := a.Store.ChooseAmend(ctx, by, in.Tag, shop.AmendChoice(in.Body.Choice)); err != nil {
				return nil, err
			}
			return list(ctx)
		})
	operation(a, http.MethodPost, "/dumped/{tag}/settled", "settle-other-class", "Note how another class was settled with a party", staff,
		func(ctx context.Context, by shop.Actor, in *settleAmendInput) (*amendsOutput, error) {
			if err := a.Store.SettleAmend(ctx, by, in.Tag, in.Body.Note); err != nil {
				return nil, err
			}
			return list(ctx)
		})
	operation(a, http.MethodPost, "/cured-again", "cure-again", "Say yes to curing dumped slabs again", owner,
		func(ctx context.Context, by shop.Actor, in *againInput) (*againOutput, error) {
			made, err := a.Store.CureAgain(ctx, by, in.Body.Tags)
			if err != nil {
				return nil, err
			}
			out := &againOutput{}
			out.Body.Made = made
			return out, nil
		})
}

func againPlanOut(p *store.AgainPlan) AgainPlanOut {
	o := AgainPlanOut{Slabs: len(p.Tags), Free: p.Free, OffSale: []AgainSeatsOut{}, Short: p.Short, Seal: p.Chain.Seal, Earliest: p.Chain.Earliest, Unbag: p.Chain.Unbag,
		Ready: p.Chain.Pack, Hooks: p.Hooks, HooksUsed: p.Own, Beside: append([]string{}, p.Beside...), Slips: []AgainSlipOut{}}
	for _, u := range p.Unsold {
		o.OffSale = append(o.OffSale, AgainSeatsOut{u.Code, u.N, u.Left})
	}
	for _, sl := range p.Slips {
		o.Slips = append(o.Slips, AgainSlipOut(sl))
	}
	return o
}
