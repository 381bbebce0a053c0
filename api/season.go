package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

type seasonInput struct {
	From string `query:"from" format:"date" doc:"A day of the first week; today when left out."`
	To   string `query:"to" format:"date" doc:"A day of the last week; sixteen weeks on when left out."`
}

type seasonOutput struct {
	Body struct {
		From      unit.Day         `json:"from"`
		To        unit.Day         `json:"to"`
		Breaks    []seasonBreakOut `json:"breaks" doc:"Dates that do not fit with every seat sold and everything sketched published; the first at their head."`
		Notes     []seasonBreakOut `json:"notes" doc:"Dates that are tight and refuse nothing."`
		Days      []seasonDayOut   `json:"days"`
		Smoke     []smokeDayOut    `json:"smoke_days"`
		Sketched  []sketchedOut    `json:"sketched" doc:"Classes waiting to be published, each judged as things stand."`
		Placeless []placelessOut   `json:"seats_without_place"`
	}
}

type seasonBreakOut struct {
	Day  unit.Day `json:"day"`
	What string   `json:"what"`
	Have int      `json:"have"`
	Cap  int      `json:"cap"`
	Text string   `json:"text"`
}

type seasonDayOut struct {
	Day     unit.Day `json:"day"`
	Rack    int      `json:"rack"`
	Resting int      `json:"resting"`
	Shelf   int      `json:"shelf"`
	Freezer int      `json:"freezer"`
}

type smokeDayOut struct {
	Day    unit.Day `json:"day"`
	Own    int      `json:"own_hooks"`
	Hooks  int      `json:"hooks" doc:"For classes."`
	Used   int      `json:"used"`
	Bottom int      `json:"bottom_row_used"`
}

type sketchedOut struct {
	Class   string   `json:"class"`
	Fits    bool     `json:"fits"`
	Refused string   `json:"refused,omitempty"`
	Strains []string `json:"strains,omitempty"`
}

type placelessOut struct {
	Class string `json:"class"`
	Seats int    `json:"seats"`
}

func breaksOf(list []season.Break) []seasonBreakOut {
	out := []seasonBreakOut{}
	for _, b := range list {
		out = append(out, seasonBreakOut{b.Day, b.What, b.Have, b.Cap, b.Text})
	}
	return out
}

func seasonFrom(s *store.SeasonSketch) *seasonOutput {
	out := &seasonOutput{}
	b := &out.Body
	b.From, b.To, b.Breaks, b.Notes = s.From, s.To, breaksOf(s.Breaks), breaksOf(s.Notes)
	b.Days, b.Smoke, b.Sketched, b.Placeless = []seasonDayOut{}, []smokeDayOut{}, []sketchedOut{}, []placelessOut{}
	for _, d := range s.Days {
		b.Days = append(b.Days, seasonDayOut{d.Day, d.Rack, d.Rest, d.Shelf, d.Frozen})
	}
	for _, l := range s.Loads {
		b.Smoke = append(b.Smoke, smokeDayOut{l.Smoke, l.Own, l.Hooks, l.Used, l.Bottom})
	}
	for _, w := range s.Weeks {
		for _, c := range w.Classes {
			if c.State == shop.Sketched {
				b.Sketched = append(b.Sketched, sketchedOut{c.Code, c.Refused == "", c.Refused, c.Strains})
			}
		}
	}
	for _, p := range s.Placeless {
		b.Placeless = append(b.Placeless, placelessOut{p.Code, p.Seats})
	}
	return out
}

func (a *Server) seasonOperations() {
	owner := []shop.Role{shop.Owner}
	operation(a, http.MethodGet, "/season", "season-sketch", "What the season asks of rooms, hooks and hands, and where it breaks", owner,
		func(ctx context.Context, _ shop.Actor, in *seasonInput) (*seasonOutput, error) {
			from, to, err := span(in.From, in.To, a.Store.Today(), 16*7)
			if err != nil {
				return nil, err
			}
			if to < from || to > from+366 {
				return nil, shop.Bad("to", "The last day lies between the first and a year later.")
			}
			s, err := a.Store.Season(ctx, from, to)
			if err != nil {
				return nil, err
			}
			return seasonFrom(s), nil
		})
}
