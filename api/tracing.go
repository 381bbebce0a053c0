package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

// HandleOut is something a trace can begin from.
type HandleOut struct {
	Kind  string       `json:"kind" enum:"slab,animal,side,belly,delivery,lot,jar,room,load,scale,farm,plant,grind"`
	Key   string       `json:"key"`
	Name  string       `json:"name"`
	From  unit.Instant `json:"from,omitempty"`
	Until unit.Instant `json:"until,omitempty"`
}

type traceSearchInput struct {
	Q string `query:"q" maxLength:"120" example:"P-117" doc:"A tag, lot, animal, meat lot, jar, room or scale with two moments, smoke day, farm or plant, as a person types it."`
}

type traceSearchOutput struct {
	Body struct {
		Hits []HandleOut `json:"hits"`
	}
}

type handleInput struct {
	Kind  string `path:"kind" maxLength:"20" example:"lot"`
	Key   string `path:"key" maxLength:"60"`
	From  string `query:"from" maxLength:"40" doc:"Of jar, room, scale, farm and plant: RFC 3339, or 2026-11-08 02:00 on the shop's clocks, or a day."`
	Until string `query:"until" maxLength:"40" doc:"None: to now. A day alone is counted whole."`
}

// TracedOut is all that hangs on one handle.
type TracedOut struct {
	Handle   HandleOut         `json:"handle"`
	Slabs    []TracedSlabOut   `json:"slabs"`
	Bookings int               `json:"bookings" doc:"Parties with slabs among them."`
	Here     int               `json:"here"`
	Held     int               `json:"held"`
	Out      int               `json:"handed_out"`
	OutOf    int               `json:"handed_out_bookings"`
	Gone     int               `json:"gone"`
	Ate      int               `json:"ate" doc:"Dinner guests."`
	AteOf    int               `json:"ate_bookings"`
	Parties  []TracedPartyOut  `json:"parties"`
	Dinners  []TracedClassOut  `json:"dinners"`
	Cut      []TracedClassOut  `json:"cut_by" doc:"Clinics that cut the animal and took shares home."`
	Jars     []TracedJarOut    `json:"jars"`
	Meat     []TracedMeatOut   `json:"meat" doc:"Deliveries the slabs came from."`
	Lots     []TracedLotOut    `json:"lots" doc:"Ingredient lots on them, the roll of bags among them."`
	Ground   []TracedGroundOut `json:"ground"`
	Near     []HandleOut       `json:"near" doc:"The next things up and down the thread."`
	Recall   *RecallOut        `json:"recall,omitempty"`
}

// TracedSlabOut is one slab and where it is.
type TracedSlabOut struct {
	Tag      string         `json:"tag"`
	Class    string         `json:"class"`
	Booking  string         `json:"booking,omitempty"`
	Spice    string         `json:"spice,omitempty"`
	State    shop.SlabState `json:"state"`
	Stage    store.Stage    `json:"stage"`
	Where    string         `json:"where"`
	HandedAt unit.Instant   `json:"handed_at,omitempty"`
	HandedTo string         `json:"handed_to,omitempty"`
}

// TracedPartyOut is a party a trace touches.
type TracedPartyOut struct {
	Booking string        `json:"booking"`
	Payer   string        `json:"payer"`
	Here    []string      `json:"here"`
	Out     []string      `json:"handed_out"`
	Ate     []string      `json:"ate"`
	Cut     []string      `json:"took_home"`
	Tell    bool          `json:"tell" doc:"Has something at home, or ate."`
	Told    bool          `json:"reached"`
	Reached []ReachingOut `json:"tries"`
}

// ReachingOut is one try to reach a party.
type ReachingOut struct {
	At    unit.Instant `json:"at"`
	How   string       `json:"how"`
	To    string       `json:"to,omitempty"`
	State string       `json:"state"`
	Words string       `json:"words,omitempty"`
	By    string       `json:"by,omitempty"`
}

// TracedClassOut is a class of people who ate or took home.
type TracedClassOut struct {
	Class    string       `json:"class"`
	StartsAt unit.Instant `json:"starts_at"`
	Why      string       `json:"why"`
	Guests   int          `json:"guests"`
	Ate      int          `json:"came"`
	Bookings int          `json:"bookings"`
}

// TracedJarOut is a stay of a lot in a jar.
type TracedJarOut struct {
	Jar     string       `json:"jar"`
	Lot     string       `json:"lot"`
	From    unit.Instant `json:"from"`
	Until   unit.Instant `json:"until,omitempty"`
	Classes []string     `json:"classes"`
}

// TracedMeatOut is a delivery.
type TracedMeatOut struct {
	Lot       string   `json:"lot"`
	Farm      string   `json:"farm"`
	Plant     string   `json:"plant"`
	Legend    string   `json:"inspection_mark"`
	KilledOn  unit.Day `json:"killed_on,omitempty"`
	Delivered unit.Day `json:"delivered_on"`
	Slabs     int      `json:"slabs"`
	Keep      unit.Day `json:"keep_to"`
}

// TracedLotOut is an ingredient lot.
type TracedLotOut struct {
	Ingredient string `json:"ingredient"`
	Code       string `json:"code"`
	Slabs      int    `json:"slabs"`
}

// TracedGroundOut is a lot of ground meat.
type TracedGroundOut struct {
	At      unit.Instant `json:"at"`
	Product string       `json:"product"`
	Weight  unit.Weight  `json:"weight,omitempty"`
	Carried bool         `json:"carried_over_only"`
}

// RecallOut is how a recall stands.
type RecallOut struct {
	Reason    string       `json:"reason"`
	OpenedAt  unit.Instant `json:"opened_at"`
	OpenedBy  string       `json:"opened_by"`
	Messages  int          `json:"messages"`
	Sent      int          `json:"sent"`
	Waiting   int          `json:"waiting"`
	CameBack  int          `json:"came_back"`
	Unreached int          `json:"not_reached" doc:"Parties to tell whom nothing has reached."`
}

type tracedOutput struct{ Body TracedOut }

type recallInput struct {
	Kind  string `path:"kind" maxLength:"20"`
	Key   string `path:"key" maxLength:"60"`
	From  string `query:"from" maxLength:"40"`
	Until string `query:"until" maxLength:"40"`
	Body  struct {
		Reason string `json:"reason,omitempty" maxLength:"400" doc:"In a sentence its people may read. Not needed when the recall is open already."`
	}
}

type recallCallInput struct {
	Kind  string `path:"kind" maxLength:"20"`
	Key   string `path:"key" maxLength:"60"`
	From  string `query:"from" maxLength:"40"`
	Until string `query:"until" maxLength:"40"`
	Body  struct {
		Booking int    `json:"booking" minimum:"1" example:"4"`
		Reached bool   `json:"reached"`
		Words   string `json:"words" minLength:"1" maxLength:"400"`
	}
}

func (a *Server) tracingOperations() {
	staff := []shop.Role{shop.Staff}
	handle := func(kind, key, from, until string) (store.Handle, error) {
		h := store.Handle{Kind: kind, Key: key}
		var err error
		h.From, h.Until, err = a.Store.TraceSpan(from, until)
		return h, err
	}
	traced := func(ctx context.Context, h store.Handle) (*tracedOutput, error) {
		tr, err := a.Store.Trace(ctx, h)
		if err != nil {
			return nil, err
		}
		return &tracedOutput{tracedOut(tr)}, nil
	}
	operation(a, http.MethodGet, "/trace", "search-trace", "What a typed name may mean, to trace from", staff,
		func(ctx context.Context, _ shop.Actor, in *traceSearchInput) (*traceSearchOutput, error) {
			hits, err := a.Store.TraceSearch(ctx, in.Q)
			if err != nil {
				return nil, err
			}
			out := &traceSearchOutput{}
			out.Body.Hits = handlesOut(hits)
			return out, nil
		})
	operation(a, http.MethodGet, "/trace/{kind}/{key}", "trace", "Everything that hangs on one thing: back to farms and lots, forward to places and people", staff,
		func(ctx context.Context, _ shop.Actor, in *handleInput) (*tracedOutput, error) {
			h, err := handle(in.Kind, in.Key, in.From, in.Until)
			if err != nil {
				return nil, err
			}
			return traced(ctx, h)
		})
	operation(a, http.MethodPost, "/trace/{kind}/{key}/hold", "recall-hold", "Put everything a trace finds in the house on hold", staff,
		func(ctx context.Context, by shop.Actor, in *recallInput) (*tracedOutput, error) {
			h, err := handle(in.Kind, in.Key, in.From, in.Until)
			if err != nil {
				return nil, err
			}
			if _, err := a.Store.RecallHold(ctx, by, h, in.Body.Reason); err != nil {
				return nil, err
			}
			return traced(ctx, h)
		})
	operation(a, http.MethodPost, "/trace/{kind}/{key}/tell", "recall-tell", "Write to everybody who has something of a trace at home or ate of it, once each, at any hour", staff,
		func(ctx context.Context, by shop.Actor, in *recallInput) (*tracedOutput, error) {
			h, err := handle(in.Kind, in.Key, in.From, in.Until)
			if err != nil {
				return nil, err
			}
			if _, err := a.Store.RecallTell(ctx, by, h, in.Body.Reason); err != nil {
				return nil, err
			}
			return traced(ctx, h)
		})
	operation(a, http.MethodPost, "/trace/{kind}/{key}/calls", "recall-call", "Note a try to reach a party otherwise than by message", staff,
		func(ctx context.Context, by shop.Actor, in *recallCallInput) (*tracedOutput, error) {
			h, err := handle(in.Kind, in.Key, in.From, in.Until)
			if err != nil {
				return nil, err
			}
			if err := a.Store.RecallCalled(ctx, by, h, in.Body.Booking, in.Body.Reached, in.Body.Words); err != nil {
				return nil, err
			}
			return traced(ctx, h)
		})
}

func handlesOut(hits []store.TraceHit) []HandleOut {
	out := []HandleOut{}
	for _, h := range hits {
		out = append(out, HandleOut{h.Kind, h.Key, h.Name, h.From, h.Until})
	}
	return out
}

func tracedOut(tr *store.Traced) TracedOut {
	o := TracedOut{Handle: HandleOut{tr.Kind, tr.Key, tr.Name, tr.From, tr.Until}, Bookings: tr.Bookings(), Here: tr.Here, Held: tr.Held, Out: tr.Out, OutOf: tr.OutBookings(), Gone: tr.Gone, Ate: tr.Ate, AteOf: tr.AteBookings(),
		Slabs: []TracedSlabOut{}, Parties: []TracedPartyOut{}, Jars: []TracedJarOut{}, Meat: []TracedMeatOut{}, Lots: []TracedLotOut{}, Ground: []TracedGroundOut{}, Near: handlesOut(tr.Near),
		Dinners: classesOut(tr.Dinners), Cut: classesOut(tr.Cut)}
	for _, s := range tr.Slabs {
		o.Slabs = append(o.Slabs, TracedSlabOut{s.Tag, s.Class, s.Ref, s.Jar, s.State, s.Stage, s.Where, s.HandedAt, s.HandedTo})
	}
	for _, p := range tr.Parties {
		x := TracedPartyOut{Booking: p.Ref, Payer: p.Payer, Here: some(p.Here), Out: some(p.Out), Ate: some(p.Ate), Cut: some(p.Cut), Tell: p.Tell(), Told: p.Told, Reached: []ReachingOut{}}
		for _, r := range p.Reached {
			x.Reached = append(x.Reached, ReachingOut{r.At, r.How, r.To, r.State, r.Words, r.By})
		}
		o.Parties = append(o.Parties, x)
	}
	for _, j := range tr.Jars {
		o.Jars = append(o.Jars, TracedJarOut{j.Code, j.Lot, j.FromAt, j.UntilAt, some(j.Classes)})
	}
	for _, m := range tr.Meat {
		o.Meat = append(o.Meat, TracedMeatOut{m.Lot, m.Farm, m.Plant, m.Legend, m.KilledOn, m.DeliveredOn, m.Slabs, m.Keep})
	}
	for _, l := range tr.Lots {
		o.Lots = append(o.Lots, TracedLotOut{l.Ingredient, l.Code, l.Slabs})
	}
	for _, g := range tr.Grinds {
		o.Ground = append(o.Ground, TracedGroundOut{g.From, g.Product, g.Weight, g.ByCarry})
	}
	if r := tr.Recall; r != nil {
		o.Recall = &RecallOut{r.Reason, r.OpenedAt, r.OpenedBy, r.Messages, r.Sent, r.Waiting, r.CameBack, r.Unreached}
	}
	return o
}

func classesOut(ds []store.TracedDinner) []TracedClassOut {
	out := []TracedClassOut{}
	for _, d := range ds {
		c := TracedClassOut{Class: d.Code, StartsAt: d.StartsAt, Why: d.Why, Guests: len(d.Guests), Bookings: d.Parties()}
		for _, g := range d.Guests {
			if g.Ate {
				c.Ate++
			}
		}
		out = append(out, c)
	}
	return out
}
