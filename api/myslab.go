package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

type mySlabInput struct {
	Secret string `path:"secret" maxLength:"64"`
}

type mySlabOutput struct{ Body mySlabOut }

// mySlabOut is what a party may know of its slabs.
type mySlabOut struct {
	Class     string       `json:"class"`
	Ready     bool         `json:"ready" doc:"All of it is on the shelf."`
	Done      bool         `json:"done" doc:"All of it has been fetched."`
	Checked   bool         `json:"being_checked" doc:"No date just now."`
	From      unit.Day     `json:"ready_from,omitempty" doc:"Ready about."`
	To        unit.Day     `json:"ready_to,omitempty" doc:"Later than ready_from while a new day is not settled."`
	Fetches   string       `json:"fetches"`
	Sliced    bool         `json:"sliced"`
	MayChange bool         `json:"may_change" doc:"Sliced or whole: until the slab is smoked."`
	Slabs     []myPieceOut `json:"slabs"`
}

type myPieceOut struct {
	Tag      string      `json:"tag"`
	Name     string      `json:"name,omitempty"`
	Spice    string      `json:"spice,omitempty"`
	Stage    string      `json:"stage" enum:"not sealed yet,sealed,curing,smoked,packed,on the shelf,fetched,given up,dumped"`
	Day      int         `json:"day,omitempty" doc:"In cure."`
	Checked  bool        `json:"being_checked"`
	Frozen   bool        `json:"frozen"`
	Green    unit.Weight `json:"started_with,omitempty"`
	Finished unit.Weight `json:"weighs,omitempty"`
	UseBy    unit.Day    `json:"use_by,omitempty"`
	Farm     string      `json:"farm,omitempty"`
	Side     string      `json:"side,omitempty"`
	Choice   string      `json:"choice,omitempty" enum:"again,class,money" doc:"What was chosen for it once it was dumped."`
	Note     string      `json:"note,omitempty" doc:"Their own, for the next time."`
}

var mySlabStages = []string{"not sealed yet", "sealed", "curing", "smoked", "packed", "on the shelf"}

func mySlabFrom(m *store.MySlab) *mySlabOutput {
	o := &mySlabOutput{mySlabOut{Class: m.Class, Ready: m.Ready, Done: m.Done, Checked: m.Checked, Fetches: m.Fetches, Sliced: m.Sliced, MayChange: m.MayChange, Slabs: []myPieceOut{}}}
	if !m.Checked {
		o.Body.From, o.Body.To = m.From, m.To
	}
	for _, p := range m.Slabs {
		stage := mySlabStages[p.Stage]
		switch {
		case p.GivenUp:
			stage = "given up"
		case p.Gone:
			stage = "fetched"
		case p.Lost:
			stage = "dumped"
		}
		o.Body.Slabs = append(o.Body.Slabs, myPieceOut{p.Tag, p.Name, p.Spice, stage, p.Day, p.Checked, p.Frozen, p.Green, p.Finished, p.UseBy, p.Farm, p.Side, string(p.Choice), p.Note})
	}
	return o
}

type collectorInput struct {
	Secret string `path:"secret" maxLength:"64"`
	Body   struct {
		Name string `json:"name" maxLength:"80" doc:"Who may fetch it; empty: only who paid."`
	}
}

type slicedInput struct {
	Secret string `path:"secret" maxLength:"64"`
	Body   struct {
		Sliced bool `json:"sliced"`
	}
}

type myAmendInput struct {
	Secret string `path:"secret" maxLength:"64"`
	Body   struct {
		Tag    string `json:"tag" maxLength:"20" example:"B5-10"`
		Choice string `json:"choice" enum:"again,class,money" doc:"Cured again with the same spice, another class, or all the money back for its seat."`
	}
}

type slabNoteInput struct {
	Secret string `path:"secret" maxLength:"64"`
	Body   struct {
		Tag  string `json:"tag" maxLength:"20" example:"B5-10"`
		Note string `json:"note" maxLength:"1000" doc:"One line of at most 200 letters; empty takes it away."`
	}
}

func (a *Server) mySlabOperations() {
	show := func(ctx context.Context, secret string, err error) (*mySlabOutput, error) {
		if err != nil {
			return nil, err
		}
		m, err := a.Store.MySlab(ctx, secret)
		if err != nil {
			return nil, err
		}
		return mySlabFrom(m), nil
	}
	operation(a, http.MethodGet, "/my-slab/{secret}", "my-slab", "A party's slabs, by the secret of their page", nil,
		func(ctx context.Context, _ shop.Actor, in *mySlabInput) (*mySlabOutput, error) {
			return show(ctx, in.Secret, nil)
		})
	operation(a, http.MethodPost, "/my-slab/{secret}/collector", "name-collector", "Say who fetches", nil,
		func(ctx context.Context, _ shop.Actor, in *collectorInput) (*mySlabOutput, error) {
			return show(ctx, in.Secret, a.Store.NameCollector(ctx, in.Secret, in.Body.Name))
		})
	operation(a, http.MethodPost, "/my-slab/{secret}/dumped", "choose-for-dumped", "Choose what is made of a slab that was dumped", nil,
		func(ctx context.Context, _ shop.Actor, in *myAmendInput) (*mySlabOutput, error) {
			return show(ctx, in.Secret, a.Store.ChooseMyAmend(ctx, in.Secret, in.Body.Tag, shop.AmendChoice(in.Body.Choice)))
		})
	operation(a, http.MethodPost, "/my-slab/{secret}/sliced", "choose-sliced", "Sliced or whole, until smoke day", nil,
		func(ctx context.Context, _ shop.Actor, in *slicedInput) (*mySlabOutput, error) {
			return show(ctx, in.Secret, a.Store.ChooseSliced(ctx, in.Secret, in.Body.Sliced))
		})
	operation(a, http.MethodPost, "/my-slab/{secret}/note", "note-slab", "Keep a party's own words about a slab, for the next time", nil,
		func(ctx context.Context, _ shop.Actor, in *slabNoteInput) (*mySlabOutput, error) {
			return show(ctx, in.Secret, a.Store.KeepNote(ctx, in.Secret, in.Body.Tag, in.Body.Note))
		})
}
