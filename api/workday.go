package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

type todayOutput struct {
	Body struct {
		Day     unit.Day        `json:"day"`
		Classes []DayClass      `json:"classes"`
		Unbag   []string        `json:"unbag" doc:"Tags that may leave their bags today."`
		Smoke   []string        `json:"smoke" doc:"Tags of today's load."`
		Pack    []string        `json:"pack"`
		Shelve  []string        `json:"shelve"`
		Freeze  []string        `json:"freeze" doc:"Tags over their days on the shelf."`
		Dates   int             `json:"dates" doc:"New ready-about dates that the owner may tell."`
		Rooms   []RoomReading   `json:"rooms"`
		Scales  []ScaleStanding `json:"scales"`
	}
}

// DayClass is a class of today.
type DayClass struct {
	Code     string       `json:"code"`
	StartsAt unit.Instant `json:"starts_at"`
	People   int          `json:"people"`
	Came     int          `json:"came"`
	NotTold  int          `json:"not_told" doc:"People whose food needs nobody knows."`
	Owing    unit.Money   `json:"owing"`
	Unsealed []string     `json:"unsealed"`
}

// RoomReading is a cold room's last reading.
type RoomReading struct {
	Code string       `json:"code"`
	At   unit.Instant `json:"at"`
	Temp unit.Temp    `json:"temp"`
	Warm bool         `json:"warm" doc:"Above 41 F."`
	Cold bool         `json:"cold" doc:"Below 34 F: cure stalls."`
	Gap  bool         `json:"gap" doc:"More than an hour without a reading, now or in the last day."`
}

// ScaleStanding says whether a scale may weigh curing salt today.
type ScaleStanding struct {
	Name    string      `json:"name"`
	Step    unit.Weight `json:"step"`
	Checked bool        `json:"checked" doc:"Today, and passed."`
}

type rackOutput struct {
	Body struct {
		Used   int         `json:"used"`
		Total  int         `json:"total"`
		Places []RackPlace `json:"places"`
		Ahead  []RackAhead `json:"ahead" doc:"What the rack will want, with the seats sold."`
		Lost   []RackLost  `json:"seats_without_a_place" doc:"On sale, with no place on the rack as things stand."`
	}
}

// RackAhead is days that follow one another on which the rack wants the same.
type RackAhead struct {
	From   unit.Day `json:"from"`
	To     unit.Day `json:"to"`
	Used   int      `json:"used"`
	Places int      `json:"places"`
	Over   int      `json:"over"`
}

// RackLost is a class with seats on sale that have no place.
type RackLost struct {
	Class string `json:"class"`
	Seats int    `json:"seats"`
}

// RackPlace is a place and what lies there.
type RackPlace struct {
	Code      string   `json:"code"`
	Tag       string   `json:"tag,omitempty"`
	Day       int      `json:"day,omitempty" doc:"In cure."`
	UnbagFrom unit.Day `json:"unbag_from,omitempty"`
	Latest    unit.Day `json:"latest,omitempty"`
	Held      bool     `json:"held,omitempty"`
}

type shelfOutput struct {
	Body struct {
		Packets []ShelfPacket `json:"packets"`
	}
}

// ShelfPacket is a packet that waits to be fetched.
type ShelfPacket struct {
	Place    string         `json:"place"`
	Tag      string         `json:"tag"`
	Booking  string         `json:"booking,omitempty"`
	Days     int            `json:"days"`
	UseBy    unit.Day       `json:"use_by,omitempty"`
	FreezeOn unit.Day       `json:"freeze_on,omitempty"`
	State    shop.SlabState `json:"state"`
	Told     bool           `json:"told"`
	Freeze   bool           `json:"to_freezer" doc:"Its last day on the shelf has ended."`
}

func shelfPackets(lines []store.ShelfLine) []ShelfPacket {
	out := []ShelfPacket{}
	for _, l := range lines {
		out = append(out, ShelfPacket{l.Place, l.Tag, l.Ref, l.Days, l.UseBy, l.FreezeOn, l.State, l.Told, l.Over})
	}
	return out
}

type datesOutput struct {
	Body struct {
		Dates []NewDate `json:"dates"`
	}
}

// NewDate is a ready-about date that waits to be told.
type NewDate struct {
	ID      shop.BookingID `json:"id"`
	Booking string         `json:"booking"`
	Tags    []string       `json:"tags"`
	Old     unit.Day       `json:"old"`
	New     unit.Day       `json:"new"`
	Reason  string         `json:"reason"`
	Name    string         `json:"name"`
	Class   string         `json:"class"`
	Note    string         `json:"note,omitempty" doc:"What they wrote when booking."`
	Missed  bool           `json:"cannot_be_met" doc:"The note names a day before the new one."`
}

type tellInput struct {
	Body struct {
		Bookings []shop.BookingID `json:"bookings" minItems:"1" maxItems:"500"`
	}
}

type toldOutput struct {
	Body struct {
		Told int `json:"told"`
	}
}

type houseHooksInput struct {
	Day  string `path:"day" example:"2026-11-06"`
	Body struct {
		Hooks int `json:"hooks" minimum:"0" maximum:"500"`
	}
}

func list(tags []string) []string { return append([]string{}, tags...) }

// workdayOperations are the day's work: what is due, what lies where, dates to tell.
func (a *Server) workdayOperations() {
	staff := []shop.Role{shop.Staff}
	operation(a, http.MethodGet, "/today", "today", "What the day holds", staff, a.today)
	operation(a, http.MethodGet, "/rack", "rack", "The cure cooler, place by place", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*rackOutput, error) {
			m, err := a.Store.RackMap(ctx)
			if err != nil {
				return nil, err
			}
			out := &rackOutput{}
			out.Body.Used, out.Body.Total, out.Body.Places = m.Used, m.Total, []RackPlace{}
			for _, p := range append(m.Places, m.Overflow...) {
				out.Body.Places = append(out.Body.Places, RackPlace{p.Code, p.Tag, p.Day, p.UnbagFrom, p.Latest, p.Held})
			}
			out.Body.Ahead, out.Body.Lost = []RackAhead{}, []RackLost{}
			for _, r := range m.Ahead {
				out.Body.Ahead = append(out.Body.Ahead, RackAhead{r.From, r.To, r.Used, r.Places, r.Over()})
			}
			for _, l := range m.Lost {
				out.Body.Lost = append(out.Body.Lost, RackLost{l.Code, l.Seats})
			}
			return out, nil
		})
	operation(a, http.MethodGet, "/shelf", "shelf", "Packets that wait to be fetched", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*shelfOutput, error) {
			lines, err := a.Store.Shelf(ctx)
			if err != nil {
				return nil, err
			}
			out := &shelfOutput{}
			out.Body.Packets = shelfPackets(lines)
			return out, nil
		})
	operation(a, http.MethodGet, "/dates", "dates", "New ready-about dates that wait to be told", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*datesOutput, error) {
			drafts, err := a.Store.DateDrafts(ctx)
			if err != nil {
				return nil, err
			}
			out := &datesOutput{}
			out.Body.Dates = []NewDate{}
			for _, d := range drafts {
				out.Body.Dates = append(out.Body.Dates, NewDate{d.Booking, d.Ref, list(d.Tags), d.Old, d.New, d.Reason, d.Name, d.Class, d.Note, d.CannotBeMet()})
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/dates/tell", "tell-dates", "Tell people their new ready-about date; told once", []shop.Role{shop.Owner},
		func(ctx context.Context, by shop.Actor, in *tellInput) (*toldOutput, error) {
			n, err := a.Store.TellDates(ctx, by, in.Body.Bookings...)
			if err != nil {
				return nil, err
			}
			out := &toldOutput{}
			out.Body.Told = n
			return out, nil
		})
	operation(a, http.MethodPut, "/loads/{day}/house-hooks", "house-hooks", "Hooks the shop's own bacon takes on a day", []shop.Role{shop.Owner},
		func(ctx context.Context, by shop.Actor, in *houseHooksInput) (*struct{}, error) {
			day, err := unit.ParseDay(in.Day)
			if err != nil {
				return nil, shop.Bad("day", "%s", err)
			}
			return nil, a.Store.SetHouseHooks(ctx, by, day, in.Body.Hooks)
		})
}

func (a *Server) today(ctx context.Context, _ shop.Actor, _ *struct{}) (*todayOutput, error) {
	t, err := a.Store.TodaySheet(ctx)
	if err != nil {
		return nil, err
	}
	out := &todayOutput{}
	b := &out.Body
	b.Day, b.Unbag, b.Smoke, b.Pack, b.Shelve, b.Dates = t.Day, list(t.Unbag), list(t.Smoke), list(t.Pack), list(t.Shelve), t.Drafts
	b.Classes, b.Freeze, b.Rooms, b.Scales = []DayClass{}, []string{}, []RoomReading{}, []ScaleStanding{}
	for _, c := range t.Classes {
		b.Classes = append(b.Classes, DayClass{c.Code, c.StartsAt, c.People, c.Came, c.NotTold, c.Owing, list(c.Unsealed)})
	}
	for _, l := range t.Over {
		b.Freeze = append(b.Freeze, l.Tag)
	}
	for _, r := range t.Rooms {
		b.Rooms = append(b.Rooms, RoomReading{r.Code, r.At, r.Temp, r.Warm, r.Cold, r.Gap})
	}
	for _, s := range t.Scales {
		b.Scales = append(b.Scales, ScaleStanding{s.Name, s.Step, s.Checked})
	}
	return out, nil
}
