package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// BenchSlab is a slab as the bench sees it.
type BenchSlab struct {
	Tag       string         `json:"tag" example:"B4-03"`
	Class     string         `json:"class"`
	State     shop.SlabState `json:"state"`
	Next      shop.SlabState `json:"next,omitempty" doc:"The state its next step leads to; none on hold and at the end."`
	Booking   string         `json:"booking,omitempty" example:"K28"`
	Owner     string         `json:"owner" doc:"First name of the guest, or \"the shop\"."`
	Spice     string         `json:"spice,omitempty" doc:"Jar code; none while the guest has yet to choose."`
	Allergens string         `json:"allergens,omitempty"`
	SkinOn    bool           `json:"skin_on"`
	Green     unit.Weight    `json:"green,omitempty" doc:"Weighed at cutting; the base of every limit."`
	Planned   unit.Weight    `json:"planned,omitempty"`
	Finished  unit.Weight    `json:"finished,omitempty"`
	Place     string         `json:"place,omitempty"`
	SealedOn  unit.Day       `json:"sealed_on,omitempty"`
	UnbagFrom unit.Day       `json:"unbag_from,omitempty"`
	ReadyOn   unit.Day       `json:"ready_on,omitempty" doc:"Ready about, as its people were told last."`
	UseBy     unit.Day       `json:"use_by,omitempty"`
	HeldSince unit.Instant   `json:"held_since,omitempty"`
	HeldFor   string         `json:"held_for,omitempty"`
	Ticket    *TicketOut     `json:"ticket,omitempty"`
	NoTicket  string         `json:"no_ticket,omitempty" doc:"Why no kit can be made."`
	CureDays  *CureDaysOut   `json:"cure_days,omitempty" doc:"Of a slab in cure."`
	Bench     *BenchCureOut  `json:"bench,omitempty" doc:"While its cure is to be weighed."`
	Weighed   bool           `json:"weighed" doc:"A weigh-out of this cure has passed."`
	Line      string         `json:"line" doc:"Whose, what is on it, which side, what comes next, allowed or held: one line to read out."`
}

// TicketOut is what to weigh for one slab.
type TicketOut struct {
	Basis unit.Weight `json:"basis" doc:"Green weight, nine tenths of it when the skin is on."`
	Salt  unit.Weight `json:"salt"`
	Sugar unit.Weight `json:"sugar"`
	Cure  unit.Weight `json:"curing_salt"`
	Spice unit.Weight `json:"spice"`
	PPM   cure.PPM    `json:"nitrite_in" doc:"Ingoing sodium nitrite, mg per kg of green meat." example:"156.4 ppm"`
}

// CureDaysOut is the house rule and the salt model side by side. Promises are made from
// the rule.
type CureDaysOut struct {
	Words     string      `json:"words"`
	Rule      unit.Day    `json:"rule" doc:"Earliest unbag day by the house rule."`
	Label     string      `json:"label" doc:"Of the model: it is about salt alone."`
	Model     unit.Day    `json:"model"`
	Later     unit.Day    `json:"advice" doc:"The later of the two."`
	Thickness unit.Length `json:"thickness"`
	Measured  bool        `json:"measured" doc:"False: the thickness is estimated from the weight."`
	Stalled   float64     `json:"stalled_hours"`
	Reasons   []string    `json:"reasons"`
	Warn      string      `json:"warning,omitempty" doc:"Where the model is later than the rule."`
}

// BenchCureOut is what the bench should know while curing salt is weighed.
type BenchCureOut struct {
	Limit   string      `json:"limit"`
	Caution string      `json:"limit_caution,omitempty"`
	Scale   string      `json:"scale,omitempty" doc:"In use for curing salt."`
	Step    unit.Weight `json:"scale_step"`
	Band    cure.PPM    `json:"weighing_error" doc:"By which half a step of it may miss."`
	Warn    string      `json:"warning,omitempty"`
}

func (a *Server) slabFrom(v *store.SlabView) *BenchSlab {
	o := &BenchSlab{Tag: v.Tag, Class: v.ClassCode, State: v.State, Next: v.Next, Booking: v.Ref, Owner: v.Owner, Spice: v.JarCode, Allergens: v.Allergens, SkinOn: v.SkinOn,
		Green: v.Green, Planned: v.Planned, Finished: v.Finished, Place: v.Place, SealedOn: v.SealedOn, UnbagFrom: v.UnbagFrom, ReadyOn: v.ReadyOn, UseBy: v.UseBy,
		HeldSince: v.HeldSince, HeldFor: v.HeldFor, Weighed: v.Weighed, Line: v.Line(a.Store.Loc)}
	if k := v.Ticket; k != nil {
		o.Ticket = &TicketOut{k.Basis, k.Salt, k.Sugar, k.Cure, k.Spice, k.PPM}
	}
	o.NoTicket = v.NoKit
	if d := v.CureDays; d != nil {
		o.CureDays = &CureDaysOut{d.Words(), d.Rule, d.Label, d.Model, d.Later, d.Thickness, d.Measured, d.Stalled, d.Reasons, d.Warn}
	}
	if b := v.Bench; b.Limit != "" {
		o.Bench = &BenchCureOut{b.Limit, b.Caution, b.Scale, b.Step, b.Band, b.Warn}
	}
	return o
}

type slabInput struct {
	Tag string `path:"tag" maxLength:"20" example:"B4-03"`
}

type slabOutput struct{ Body BenchSlab }

// StepIn is one step of a slab. Each step reads its own fields.
type StepIn struct {
	Step   string       `json:"step" enum:"cut,correct,seat,pick,kit,weigh,seal,move,leaker,rinse,hang,out,pack,shelve,freeze,give-up"`
	DoneAt unit.Instant `json:"done_at,omitempty" doc:"When it was done, if it is sent later; a cold room has no signal."`
	Reason string       `json:"reason,omitempty" maxLength:"400"`

	Weight    *unit.Weight `json:"weight,omitempty" doc:"cut, correct, seat, pack; drained weight for rinse; new weight for leaker when liquid is lost"`
	SkinOn    *bool        `json:"skin_on,omitempty" doc:"cut, correct"`
	Thickness *unit.Length `json:"thickness,omitempty" doc:"cut, correct: at its thickest point; estimated without it" example:"1.5 in"`
	GuestYes  bool         `json:"guest_yes,omitempty" doc:"cut: the guest agreed to a slab under the promised weight"`
	AllLiquid bool         `json:"all_liquid,omitempty" doc:"leaker: nothing of its liquid is lost"`
	Jar       string       `json:"jar,omitempty" maxLength:"10" doc:"pick"`
	Salt      string       `json:"salt,omitempty" maxLength:"20" doc:"weigh: grams as the scale shows them"`
	Sugar     string       `json:"sugar,omitempty" maxLength:"20" doc:"weigh"`
	Cure      string       `json:"curing_salt,omitempty" maxLength:"40" doc:"weigh: grams with one decimal" example:"4.7"`
	Spice     string       `json:"spice,omitempty" maxLength:"20" doc:"weigh"`
	Scale     string       `json:"scale,omitempty" maxLength:"60" doc:"weigh: the scale of the curing salt"`
	Cup       string       `json:"cup,omitempty" maxLength:"20" doc:"weigh: tag scanned off the cup"`
	Place     string       `json:"place,omitempty" maxLength:"20" doc:"seal, move, hang, shelve, freeze; none: the next free or the planned one"`
	Core      *unit.Temp   `json:"core,omitempty" doc:"out: temperature at the core"`
}

type stepInput struct {
	Tag    string `path:"tag" maxLength:"20"`
	Key    string `header:"Idempotency-Key" maxLength:"100" doc:"The same step sent again under the same key counts once."`
	Device string `header:"Device" maxLength:"60" doc:"Which tablet or phone; the same scan of one device within five minutes counts once."`
	Body   StepIn
}

func (a *Server) slabOperations() {
	staff := []shop.Role{shop.Staff}
	operation(a, http.MethodGet, "/slabs/{tag}", "get-slab", "A slab: whose, what is on it, what comes next", staff,
		func(ctx context.Context, _ shop.Actor, in *slabInput) (*slabOutput, error) {
			v, err := a.Store.Slab(ctx, in.Tag)
			if err != nil {
				return nil, err
			}
			return &slabOutput{*a.slabFrom(v)}, nil
		})
	operation(a, http.MethodPost, "/slabs/{tag}/steps", "step-slab", "Do a step on a slab", staff,
		func(ctx context.Context, by shop.Actor, in *stepInput) (*slabOutput, error) {
			if in.Device != "" {
				by.Device = in.Device
			}
			if err := a.step(ctx, by, in); err != nil {
				return nil, err
			}
			v, err := a.Store.Slab(ctx, in.Tag)
			if err != nil {
				return nil, err
			}
			return &slabOutput{*a.slabFrom(v)}, nil
		})
	operation(a, http.MethodGet, "/slabs/{tag}/trace", "trace-slab", "A slab's whole way: back to the farm, forward to the hand", staff,
		func(ctx context.Context, _ shop.Actor, in *slabInput) (*traceOutput, error) {
			tr, err := a.Store.SlabTrace(ctx, in.Tag)
			if err != nil {
				return nil, err
			}
			return &traceOutput{a.traceOut(tr)}, nil
		})
}

func (a *Server) step(ctx context.Context, by shop.Actor, in *stepInput) error {
	sc := store.Scan{Tag: in.Tag, DoneAt: in.Body.DoneAt, Once: in.Key, Reason: in.Body.Reason}
	b, s := in.Body, a.Store
	var weight unit.Weight
	if b.Weight != nil {
		weight = *b.Weight
	}
	switch b.Step {
	case "cut", "correct":
		var w shop.Wrong
		if b.Weight == nil {
			w.Add("weight", "Say what it weighs.")
		}
		if b.SkinOn == nil {
			w.Add("skin_on", "Say whether the skin is on: the cure is reckoned on the meat under it.")
		}
		if err := w.Err(); err != nil {
			return err
		}
		c := store.Cutting{Weight: weight, SkinOn: *b.SkinOn, GuestYes: b.GuestYes}
		if b.Thickness != nil {
			c.Thickness = *b.Thickness
		}
		if b.Step == "cut" {
			return s.CutSlab(ctx, by, sc, c)
		}
		return s.CorrectSlab(ctx, by, sc, c)
	case "seat":
		return s.SeatWeight(ctx, by, sc, weight)
	case "pick":
		return s.PickAtTable(ctx, by, sc, b.Jar)
	case "kit":
		return s.Kit(ctx, by, sc)
	case "weigh":
		return s.WeighOut(ctx, by, sc, store.Weighed{Salt: b.Salt, Sugar: b.Sugar, Cure: b.Cure, Spice: b.Spice, Scale: b.Scale, Cup: b.Cup})
	case "seal":
		return s.Seal(ctx, by, sc, b.Place)
	case "move":
		return s.MoveInCure(ctx, by, sc, b.Place)
	case "leaker":
		_, err := s.Leaker(ctx, by, sc, store.Leak{AllLiquid: b.AllLiquid, Weight: weight})
		return err
	case "rinse":
		return s.Rinse(ctx, by, sc, weight)
	case "hang":
		return s.Hang(ctx, by, sc, b.Place)
	case "out":
		if b.Core == nil {
			var w shop.Wrong
			w.Add("core", "Say the temperature at the core.")
			return w.Err()
		}
		return s.OutOfSmoke(ctx, by, sc, *b.Core)
	case "pack":
		return s.Pack(ctx, by, sc, weight)
	case "shelve":
		return s.Shelve(ctx, by, sc, b.Place)
	case "freeze":
		return s.ToFreezer(ctx, by, sc, b.Place)
	case "give-up":
		return s.GiveUp(ctx, by, sc)
	}
	return shop.Bad("step", "There is no such step.")
}
