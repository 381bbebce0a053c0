package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

type slotsInput struct {
	From string `query:"from" format:"date" doc:"First kill day; today when left out."`
	To   string `query:"to" format:"date" doc:"Last kill day; ten weeks on when left out."`
}

type slotsOutput struct {
	Body struct {
		Days []slotDayOut `json:"days"`
	}
}

type slotDayOut struct {
	Kill     unit.Day       `json:"kill"`
	Delivery unit.Day       `json:"delivery"`
	Species  string         `json:"species"`
	Capacity int            `json:"capacity"`
	Held     int            `json:"held" doc:"By orders whose farm has promised."`
	Used     int            `json:"used" doc:"Animals killed, condemned included; 0 before the kill is written down."`
	Left     int            `json:"left" doc:"0 on a closed floor and on days past."`
	Closed   string         `json:"closed,omitempty" doc:"Why the plant does not kill the species that day."`
	Orders   []slotOrderOut `json:"orders"`
}

type slotOrderOut struct {
	Number   int    `json:"number"`
	State    string `json:"state"`
	Promised int    `json:"promised"`
	Held     int    `json:"held"`
}

type placesInput struct {
	Body struct {
		Kill     unit.Day `json:"kill"`
		Species  string   `json:"species" enum:"pork,beef,lamb,deer"`
		Capacity int      `json:"capacity" minimum:"0" maximum:"500"`
	}
}

func (a *Server) slotOperations() {
	owner := []shop.Role{shop.Owner}
	operation(a, http.MethodGet, "/slots", "slots", "Places on kill days: held, used and left", owner,
		func(ctx context.Context, _ shop.Actor, in *slotsInput) (*slotsOutput, error) {
			from, to, err := span(in.From, in.To, a.Store.Today(), 70)
			if err != nil {
				return nil, err
			}
			days, err := a.Store.Slots(ctx, from, to)
			if err != nil {
				return nil, err
			}
			out := &slotsOutput{}
			out.Body.Days = []slotDayOut{}
			for _, d := range days {
				o := slotDayOut{d.Day, d.Delivery, d.Species, d.Capacity, d.Held, d.Used, d.Left, d.Closed, []slotOrderOut{}}
				for _, r := range d.Orders {
					o.Orders = append(o.Orders, slotOrderOut{r.Number, string(r.State), r.Promised, r.Slots})
				}
				out.Body.Days = append(out.Body.Days, o)
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/slots", "set-places", "Write down that the plant gives more or fewer places", owner,
		func(ctx context.Context, by shop.Actor, in *placesInput) (*nothing, error) {
			return &nothing{}, a.Store.SetPlaces(ctx, by, in.Body.Kill, in.Body.Species, in.Body.Capacity)
		})
}
