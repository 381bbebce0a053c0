package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// ReadingIn is one temperature of a room.
type ReadingIn struct {
	At   unit.Instant `json:"at" example:"2026-11-08T10:15:00Z"`
	Temp unit.Temp    `json:"temp" example:"38.5 F"`
}

type readingsInput struct {
	Code string `path:"code" maxLength:"40" example:"cure"`
	Body struct {
		Readings []ReadingIn `json:"readings" minItems:"1" maxItems:"5000"`
	}
}

type readingsOutput struct {
	Body struct {
		Holds []shop.HoldID `json:"holds_opened" doc:"Holds these readings opened."`
	}
}

type scaleInput struct {
	Name string `path:"name" maxLength:"60"`
	Body struct {
		Shown  unit.Weight  `json:"shown" doc:"What it shows for the 5 g weight." example:"5.0 g"`
		DoneAt unit.Instant `json:"done_at,omitempty" doc:"When it was done, if it is sent later."`
	}
}

type holdInput struct {
	Body struct {
		Room   string   `json:"room,omitempty" maxLength:"40" doc:"All that lie in this room."`
		Tags   []string `json:"tags,omitempty" maxItems:"200"`
		Reason string   `json:"reason" minLength:"1" maxLength:"400"`
	}
}

type holdOutput struct {
	Body struct {
		ID shop.HoldID `json:"id"`
	}
}

type decideInput struct {
	ID   shop.HoldID `path:"id"`
	Body struct {
		Decision string   `json:"decision" enum:"release,dump"`
		Tags     []string `json:"tags,omitempty" maxItems:"200" doc:"None: all that are left."`
		Why      string   `json:"why" minLength:"1" maxLength:"1000" doc:"In words; it stands in the record beside the name."`
	}
}

// HoldOut is an open hold.
type HoldOut struct {
	ID       shop.HoldID  `json:"id"`
	Room     string       `json:"room,omitempty"`
	Reason   string       `json:"reason"`
	OpenedAt unit.Instant `json:"opened_at"`
	OpenedBy string       `json:"opened_by"`
	Tags     []string     `json:"tags"`
}

type holdsOutput struct {
	Body struct {
		Holds []HoldOut `json:"holds"`
	}
}

type kitsInput struct {
	Code string `path:"code" maxLength:"20" example:"B4"`
}

type kitsOutput struct {
	Body struct {
		Kits int `json:"kits"`
	}
}

type loadInput struct {
	Day string `path:"day" example:"2026-11-06"`
}

type loadOutput struct{ Body LoadOut }

// LoadOut is a smoke load.
type LoadOut struct {
	Day        unit.Day      `json:"day"`
	Hooks      int           `json:"hooks"`
	HouseHooks int           `json:"house_hooks"`
	Hangs      []LoadSlabOut `json:"hangs"`
	Waits      []LoadWaitOut `json:"waits"`
	Chosen     string        `json:"chosen" doc:"house rule, or plan when the owner took the plan's load."`
	ChosenBy   string        `json:"chosen_by,omitempty"`
	ChosenWhy  string        `json:"chosen_why,omitempty"`
	Again      []string      `json:"plan_again" doc:"Why the load no longer holds as it was planned."`
	Unpaired   []string      `json:"unpaired" doc:"Tags that hang on no hook yet."`
	Unchecked  []string      `json:"unchecked" doc:"Tags on a hook nobody has looked at a second time."`
}

// LoadSlabOut is a slab on its hook.
type LoadSlabOut struct {
	Tag    string `json:"tag"`
	Hook   string `json:"hook"`
	Reason string `json:"reason"`
}

// LoadWaitOut is a party that waits, and why.
type LoadWaitOut struct {
	Booking string   `json:"booking,omitempty"`
	Tags    []string `json:"tags"`
	Why     string   `json:"why"`
}

type handInput struct {
	ID   shop.BookingID `path:"id"`
	Key  string         `header:"Idempotency-Key" maxLength:"100"`
	Body struct {
		To     string       `json:"to" minLength:"1" maxLength:"120" doc:"The name the person gives."`
		Tags   []string     `json:"tags" minItems:"1" maxItems:"60" doc:"Every packet, scanned."`
		Reason string       `json:"reason,omitempty" maxLength:"400"`
		DoneAt unit.Instant `json:"done_at,omitempty"`
	}
}

func (a *Server) roomOperations() {
	staff := []shop.Role{shop.Staff}
	operation(a, http.MethodPost, "/rooms/{code}/readings", "add-readings", "Store temperatures of a room; sending them again changes nothing", staff,
		func(ctx context.Context, by shop.Actor, in *readingsInput) (*readingsOutput, error) {
			rs := make([]heat.Reading, len(in.Body.Readings))
			for i, r := range in.Body.Readings {
				rs[i] = heat.Reading{At: r.At, Temp: r.Temp}
			}
			ids, err := a.Store.Readings(ctx, by, in.Code, rs)
			if err != nil {
				return nil, err
			}
			out := &readingsOutput{}
			out.Body.Holds = append([]shop.HoldID{}, ids...)
			return out, nil
		})
	operation(a, http.MethodPost, "/scales/{name}/checks", "check-scale", "Enter what a scale shows for the 5 g weight", staff,
		func(ctx context.Context, by shop.Actor, in *scaleInput) (*struct{}, error) {
			return nil, a.Store.CheckScaleAt(ctx, by, in.Name, in.Body.Shown, in.Body.DoneAt)
		})
	operation(a, http.MethodGet, "/holds", "list-holds", "Holds in force", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*holdsOutput, error) {
			hs, err := a.Store.Holds(ctx)
			if err != nil {
				return nil, err
			}
			out := &holdsOutput{}
			out.Body.Holds = []HoldOut{}
			for _, h := range hs {
				out.Body.Holds = append(out.Body.Holds, HoldOut{h.ID, h.Room, h.Reason, h.OpenedAt, h.OpenedBy, append([]string{}, h.Held...)})
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/holds", "open-hold", "Put slabs on hold", staff,
		func(ctx context.Context, by shop.Actor, in *holdInput) (*holdOutput, error) {
			id, err := a.Store.OpenHold(ctx, by, in.Body.Room, in.Body.Tags, in.Body.Reason)
			if err != nil {
				return nil, err
			}
			out := &holdOutput{}
			out.Body.ID = id
			return out, nil
		})
	operation(a, http.MethodPost, "/holds/{id}/decisions", "decide-hold", "Release or dump what is on hold", staff,
		func(ctx context.Context, by shop.Actor, in *decideInput) (*struct{}, error) {
			act := a.Store.Release
			if in.Body.Decision == "dump" {
				act = a.Store.Dump
			}
			return nil, act(ctx, by, in.ID, in.Body.Tags, in.Body.Why)
		})
	operation(a, http.MethodPost, "/classes/{code}/kits", "kit-class", "Make the kits of every cut slab of a class", staff,
		func(ctx context.Context, by shop.Actor, in *kitsInput) (*kitsOutput, error) {
			n, err := a.Store.KitClass(ctx, by, in.Code)
			if err != nil {
				return nil, err
			}
			out := &kitsOutput{}
			out.Body.Kits = n
			return out, nil
		})
	operation(a, http.MethodGet, "/loads/{day}", "get-load", "A smoke day's load", staff,
		func(ctx context.Context, _ shop.Actor, in *loadInput) (*loadOutput, error) {
			return a.load(ctx, in.Day)
		})
	operation(a, http.MethodPost, "/loads/{day}", "plan-load", "Choose what hangs on a smoke day", staff,
		func(ctx context.Context, by shop.Actor, in *loadInput) (*loadOutput, error) {
			d, err := unit.ParseDay(in.Day)
			if err != nil {
				return nil, shop.Bad("day", "%s", err)
			}
			if _, err := a.Store.PlanLoad(ctx, by, d); err != nil {
				return nil, err
			}
			return a.load(ctx, in.Day)
		})
	operation(a, http.MethodPost, "/bookings/{id}/handover", "hand-over", "Hand a party's packets out", staff,
		func(ctx context.Context, by shop.Actor, in *handInput) (*struct{}, error) {
			return nil, a.Store.Collect(ctx, by, store.Handing{Booking: in.ID, To: in.Body.To, Tags: in.Body.Tags, Reason: in.Body.Reason, DoneAt: in.Body.DoneAt, Once: in.Key})
		})
}

func (a *Server) load(ctx context.Context, day string) (*loadOutput, error) {
	d, err := unit.ParseDay(day)
	if err != nil {
		return nil, shop.Bad("day", "%s", err)
	}
	sh, err := a.Store.SmokeSheet(ctx, d)
	if err != nil {
		return nil, err
	}
	o := &loadOutput{LoadOut{Day: d, Hooks: sh.Hooks, HouseHooks: sh.HouseHooks, Hangs: []LoadSlabOut{}, Waits: []LoadWaitOut{}}}
	o.Body.Chosen, o.Body.ChosenBy, o.Body.ChosenWhy = "house rule", sh.ChosenBy, sh.ChosenWhy
	if sh.Chosen != "" {
		o.Body.Chosen = sh.Chosen
	}
	o.Body.Again, o.Body.Unpaired, o.Body.Unchecked = list(sh.Again), list(sh.Unpaired), list(sh.Unchecked)
	for _, l := range sh.Lines {
		o.Body.Hangs = append(o.Body.Hangs, LoadSlabOut{l.Tag, l.Hook, l.Reason})
	}
	for _, g := range sh.Waiting {
		o.Body.Waits = append(o.Body.Waits, LoadWaitOut{g.Party, g.Tags, g.Why})
	}
	return o, nil
}
