package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// RoomOut is a cold room and its last reading.
type RoomOut struct {
	Code string       `json:"code" example:"cure"`
	Name string       `json:"name"`
	At   unit.Instant `json:"at,omitempty" doc:"Of the last reading."`
	Temp *unit.Temp   `json:"temp,omitempty"`
	Warm bool         `json:"warm" doc:"The last reading is above 41 °F."`
	Cold bool         `json:"cold" doc:"Below 34 °F where slabs cure: the cure stands still."`
	Gap  bool         `json:"gap" doc:"More than an hour without a reading, now or in the last day."`
}

type roomsOutput struct {
	Body struct {
		Rooms []RoomOut `json:"rooms"`
	}
}

type newRoomInput struct {
	Body struct {
		Code string `json:"code" minLength:"1" maxLength:"20" example:"cellar"`
		Name string `json:"name" minLength:"1" maxLength:"60"`
	}
}

type newPlacesInput struct {
	Code string `path:"code" maxLength:"40"`
	Body struct {
		Kind   shop.PlaceKind `json:"kind" enum:"rack,overflow,shelf,freezer"`
		Prefix string         `json:"prefix" minLength:"1" maxLength:"20" doc:"Letters the places begin with; numbers follow the last one in use." example:"R"`
		Count  int            `json:"count" minimum:"1" maximum:"200"`
	}
}

type newPlacesOutput struct {
	Body struct {
		Places []string `json:"places"`
	}
}

type logFileInput struct {
	Code    string `path:"code" maxLength:"40" example:"cure"`
	RawBody []byte `contentType:"text/csv" doc:"First line names the columns, among them time and temperature. A time without a zone is on the shop's clocks; a temperature without a scale takes its column's."`
}

type logFileOutput struct {
	Body struct {
		Read   int           `json:"read"`
		New    int           `json:"new" doc:"Of them not stored before."`
		From   unit.Instant  `json:"from"`
		To     unit.Instant  `json:"to"`
		Opened []shop.HoldID `json:"holds_opened" doc:"Holds the new readings opened."`
	}
}

type roomLogInput struct {
	Code string `path:"code" maxLength:"40" example:"cure"`
	From string `query:"from" format:"date" doc:"First day; today when left out."`
	Days int    `query:"days" minimum:"1" maximum:"31" default:"1"`
}

// RoomLogOut is a room's log: what was written, what is missing, what came of it.
type RoomLogOut struct {
	Room     string         `json:"room"`
	From     unit.Instant   `json:"from" doc:"Midnight on the shop's clocks; a day is 23 or 25 hours long when they change."`
	To       unit.Instant   `json:"to"`
	Readings []ReadingIn    `json:"readings"`
	Runs     []RoomRunOut   `json:"runs" doc:"Above 41 °F, whole even where they reach over the span."`
	Gaps     []RoomGapOut   `json:"gaps"`
	Cold     []RoomSpellOut `json:"cold" doc:"Below 34 °F where slabs cure."`
	Holds    []RoomHoldOut  `json:"holds"`
	Notes    []RoomNoteOut  `json:"notes"`
}

// RoomRunOut is a run of readings above the limit.
type RoomRunOut struct {
	First  unit.Instant `json:"first"`
	Last   unit.Instant `json:"last"`
	Peak   unit.Temp    `json:"peak"`
	PeakAt unit.Instant `json:"peak_at"`
	HoldAt unit.Instant `json:"hold_at,omitempty" doc:"The reading that broke the limit."`
	Reason string       `json:"reason,omitempty"`
}

// RoomGapOut is a stretch without readings.
type RoomGapOut struct {
	From  unit.Instant `json:"from"`
	To    unit.Instant `json:"to"`
	Asked bool         `json:"asked" doc:"Nobody has said why yet: the owner is asked."`
}

// RoomSpellOut is a stretch of time.
type RoomSpellOut struct {
	From unit.Instant `json:"from"`
	To   unit.Instant `json:"to"`
}

// RoomHoldOut is a hold on the room and what was decided on it.
type RoomHoldOut struct {
	ID        shop.HoldID       `json:"id"`
	State     shop.HoldState    `json:"state"`
	Reason    string            `json:"reason"`
	OpenedAt  unit.Instant      `json:"opened_at"`
	ClosedAt  unit.Instant      `json:"closed_at,omitempty"`
	Tags      []string          `json:"tags"`
	Decisions []RoomDecisionOut `json:"decisions"`
}

// RoomDecisionOut is a decision by a named person.
type RoomDecisionOut struct {
	At   unit.Instant `json:"at"`
	By   string       `json:"by"`
	What string       `json:"what"`
	Why  string       `json:"why"`
}

// RoomNoteOut is what somebody says of a stretch.
type RoomNoteOut struct {
	From unit.Instant `json:"from"`
	To   unit.Instant `json:"to"`
	Text string       `json:"text"`
	By   string       `json:"by"`
	At   unit.Instant `json:"at"`
}

type roomLogOutput struct{ Body RoomLogOut }

type roomNoteInput struct {
	Code string `path:"code" maxLength:"40"`
	Body struct {
		From unit.Instant `json:"from"`
		To   unit.Instant `json:"to,omitempty" doc:"None: that moment."`
		Text string       `json:"text" minLength:"1" maxLength:"1000"`
	}
}

func (a *Server) roomLogOperations() {
	staff := []shop.Role{shop.Staff}
	operation(a, http.MethodGet, "/rooms", "list-rooms", "Cold rooms and their last readings", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*roomsOutput, error) {
			rooms, err := a.Store.Rooms(ctx)
			if err != nil {
				return nil, err
			}
			out := &roomsOutput{}
			out.Body.Rooms = []RoomOut{}
			for _, r := range rooms {
				o := RoomOut{Code: r.Code, Name: r.Name, At: r.At, Warm: r.Warm, Cold: r.Cold, Gap: r.Gap}
				if r.At != 0 {
					o.Temp = &r.Temp
				}
				out.Body.Rooms = append(out.Body.Rooms, o)
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/rooms", "add-room", "Add a cold room", []shop.Role{shop.Owner},
		func(ctx context.Context, by shop.Actor, in *newRoomInput) (*struct{}, error) {
			return nil, a.Store.AddRoom(ctx, by, in.Body.Code, in.Body.Name)
		})
	operation(a, http.MethodPost, "/rooms/{code}/places", "add-places", "Add places to a room", []shop.Role{shop.Owner},
		func(ctx context.Context, by shop.Actor, in *newPlacesInput) (*newPlacesOutput, error) {
			codes, err := a.Store.AddPlaces(ctx, by, in.Code, in.Body.Kind, in.Body.Prefix, in.Body.Count)
			if err != nil {
				return nil, err
			}
			out := &newPlacesOutput{}
			out.Body.Places = codes
			return out, nil
		})
	operation(a, http.MethodPost, "/rooms/{code}/file", "import-readings", "Store a thermometer's file whole or not at all; the same file again changes nothing", staff,
		func(ctx context.Context, by shop.Actor, in *logFileInput) (*logFileOutput, error) {
			got, err := a.Store.ImportReadings(ctx, by, in.Code, string(in.RawBody))
			if err != nil {
				return nil, err
			}
			out := &logFileOutput{}
			out.Body.Read, out.Body.New, out.Body.From, out.Body.To, out.Body.Opened = got.Read, got.New, got.From, got.To, append([]shop.HoldID{}, got.Opened...)
			return out, nil
		})
	operation(a, http.MethodGet, "/rooms/{code}/log", "get-room-log", "A room's log with its gaps, holds and decisions", staff,
		func(ctx context.Context, _ shop.Actor, in *roomLogInput) (*roomLogOutput, error) {
			day := a.Store.Today()
			if in.From != "" {
				var err error
				if day, err = unit.ParseDay(in.From); err != nil {
					return nil, shop.Bad("from", "%s", err)
				}
			}
			l, err := a.Store.RoomLog(ctx, in.Code, day, in.Days)
			if err != nil {
				return nil, err
			}
			return &roomLogOutput{roomLogOut(l)}, nil
		})
	operation(a, http.MethodPost, "/rooms/{code}/notes", "note-room", "Say something beside a stretch of a room's log; readings are never changed", staff,
		func(ctx context.Context, by shop.Actor, in *roomNoteInput) (*struct{}, error) {
			return nil, a.Store.NoteRoom(ctx, by, in.Code, in.Body.From, in.Body.To, in.Body.Text)
		})
}

func roomLogOut(l *store.RoomLog) RoomLogOut {
	o := RoomLogOut{Room: l.Room.Code, From: l.From, To: l.To, Readings: readingsOut(l.Readings), Runs: []RoomRunOut{}, Gaps: []RoomGapOut{},
		Cold: []RoomSpellOut{}, Holds: []RoomHoldOut{}, Notes: []RoomNoteOut{}}
	for _, r := range l.Runs {
		run := RoomRunOut{First: r.First, Last: r.Last, Peak: r.Peak, PeakAt: r.PeakAt}
		if r.Hold != nil {
			run.HoldAt, run.Reason = r.Hold.At, r.Hold.Reason
		}
		o.Runs = append(o.Runs, run)
	}
	for _, g := range l.Gaps {
		o.Gaps = append(o.Gaps, RoomGapOut{g.From, g.To, len(g.Said) == 0})
	}
	for _, s := range l.Spells {
		o.Cold = append(o.Cold, RoomSpellOut(s))
	}
	for _, h := range l.Holds {
		v := RoomHoldOut{ID: h.ID, State: h.State, Reason: h.Reason, OpenedAt: h.OpenedAt, ClosedAt: h.ClosedAt, Tags: append([]string{}, h.Tags...), Decisions: []RoomDecisionOut{}}
		for _, d := range h.Decided {
			v.Decisions = append(v.Decisions, RoomDecisionOut{d.At, d.Actor, d.What, d.Detail})
		}
		o.Holds = append(o.Holds, v)
	}
	for _, n := range l.Notes {
		o.Notes = append(o.Notes, RoomNoteOut{n.From, n.To, n.Text, n.Actor, n.At})
	}
	return o
}

func readingsOut(log []heat.Reading) []ReadingIn {
	out := []ReadingIn{}
	for _, r := range log {
		out = append(out, ReadingIn{r.At, r.Temp})
	}
	return out
}
