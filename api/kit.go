package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

type kitListOutput struct {
	Body struct {
		Class    string       `json:"class"`
		StartsAt unit.Instant `json:"starts_at"`
		Revision int          `json:"revision" doc:"Of the plan the list was made from."`
		Planned  bool         `json:"planned" doc:"Some weights are from the cut list, not yet weighed."`
		Kits     []Kit        `json:"kits"`
		Salt     unit.Weight  `json:"salt"`
		Sugar    unit.Weight  `json:"sugar"`
		Cure     unit.Weight  `json:"curing_salt"`
		Away     []string     `json:"jars_away" doc:"Jars kept out of the room, for somebody's severe allergy."`
		Lots     []string     `json:"lots"`
		Limit    string       `json:"limit" doc:"The limit in a line."`
		Source   string       `json:"limit_source"`
		Caution  string       `json:"limit_caution,omitempty" doc:"Of a limit nobody has approved yet."`
	}
}

// Kit is what to weigh for one slab.
type Kit struct {
	Tag     string         `json:"tag"`
	Booking string         `json:"booking,omitempty"`
	Seat    int            `json:"seat,omitempty" doc:"In booking order; none for the shop's own."`
	Name    string         `json:"name"`
	Weight  unit.Weight    `json:"weight"`
	Weighed bool           `json:"weighed"`
	SkinOn  bool           `json:"skin_on"`
	Salt    unit.Weight    `json:"salt"`
	Sugar   unit.Weight    `json:"sugar"`
	Cure    unit.Weight    `json:"curing_salt"`
	PPM     cure.PPM       `json:"nitrite_in"`
	Band    cure.PPM       `json:"weighing_error" doc:"By which half a step of the scale in use may miss."`
	Warn    string         `json:"warning,omitempty" doc:"Such as what the scale's step could carry over the limit."`
	Jar     string         `json:"jar,omitempty"`
	Spice   unit.Weight    `json:"spice"`
	Problem string         `json:"problem,omitempty" doc:"Why no kit can be made."`
	State   shop.SlabState `json:"state"`
}

func kitListFrom(l *store.KitList) *kitListOutput {
	out := &kitListOutput{}
	b := &out.Body
	b.Class, b.StartsAt, b.Revision, b.Planned, b.Limit, b.Source, b.Caution = l.Code, l.StartsAt, l.Revision, l.Planned, l.Limit, l.Source, l.Caution
	b.Salt, b.Sugar, b.Cure = l.Salt, l.Sugar, l.Cure
	b.Kits, b.Away, b.Lots = []Kit{}, append([]string{}, l.Away...), append([]string{}, l.Lots...)
	for _, k := range l.Lines {
		b.Kits = append(b.Kits, Kit{Tag: k.Tag, Booking: k.Ref, Seat: k.Seat, Name: k.Name, Weight: k.Weight, Weighed: k.Weighed, SkinOn: k.SkinOn,
			Salt: k.Salt, Sugar: k.Sugar, Cure: k.Cure, PPM: k.PPM, Band: k.Band, Warn: k.Warn, Jar: k.Jar, Spice: k.Spice, Problem: k.Problem, State: k.State})
	}
	return out
}

type newLotInput struct {
	Body struct {
		Ingredient string `json:"ingredient" maxLength:"60"`
		Code       string `json:"code" maxLength:"60" doc:"The lot as it stands on the bag."`
		Supplier   string `json:"supplier,omitempty" maxLength:"80"`
		Nitrite    string `json:"nitrite,omitempty" maxLength:"20" example:"6.25 %" doc:"Of a curing salt: its share of sodium nitrite."`
		Nitrate    string `json:"nitrate,omitempty" maxLength:"20" doc:"Of a curing salt that holds some. None such can be weighed onto bacon."`
		Replaces   string `json:"replaces,omitempty" maxLength:"60" doc:"The lot it follows in the jars."`
	}
}

type swapInput struct {
	Tag    string `path:"tag" maxLength:"20"`
	Key    string `header:"Idempotency-Key" maxLength:"100"`
	Device string `header:"Device" maxLength:"60"`
	Body   struct {
		With   string       `json:"with" maxLength:"20" example:"B4-04" doc:"The other slab's tag."`
		Reason string       `json:"reason,omitempty" maxLength:"400"`
		DoneAt unit.Instant `json:"done_at,omitempty"`
	}
}

// kitOperations set a class out: its kits, the lots they are made of, slabs that change hands.
func (a *Server) kitOperations() {
	staff := []shop.Role{shop.Staff}
	operation(a, http.MethodGet, "/classes/{code}/kits", "kit-list", "What to weigh for each slab of a class", staff,
		func(ctx context.Context, _ shop.Actor, in *classPath) (*kitListOutput, error) {
			l, err := a.Store.KitList(ctx, in.Code)
			if err != nil {
				return nil, err
			}
			return kitListFrom(l), nil
		})
	operation(a, http.MethodPost, "/lots", "open-lot", "Open a lot of an ingredient", staff,
		func(ctx context.Context, by shop.Actor, in *newLotInput) (*struct{}, error) {
			b := in.Body
			return nil, a.Store.OpenLot(ctx, by, store.NewLot{Ingredient: b.Ingredient, Code: b.Code, Supplier: b.Supplier, Nitrite: b.Nitrite, Nitrate: b.Nitrate, Replaces: b.Replaces})
		})
	operation(a, http.MethodPost, "/slabs/{tag}/swap", "swap-slabs", "Two people of a class swap their slabs", staff,
		func(ctx context.Context, by shop.Actor, in *swapInput) (*struct{}, error) {
			b := in.Body
			if in.Device != "" {
				by.Device = in.Device
			}
			return nil, a.Store.SwapSlabs(ctx, by, store.Scan{Tag: in.Tag, DoneAt: b.DoneAt, Once: in.Key, Reason: b.Reason},
				store.Scan{Tag: b.With, DoneAt: b.DoneAt, Once: in.Key, Reason: b.Reason})
		})
}
