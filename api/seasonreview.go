package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

type reviewInput struct {
	From string `query:"from" format:"date" doc:"First class day; 120 days ago when left out."`
	To   string `query:"to" format:"date" doc:"Last class day; 120 days after the first when left out."`
}

type reviewOutput struct {
	Body struct {
		Classes []reviewClassOut `json:"classes"`
		Sum     reviewClassOut   `json:"sum"`
		Payers  int              `json:"payers"`
		Again   int              `json:"payers_again" doc:"Had booked before, or booked twice."`
		Farms   []reviewFarmOut  `json:"farms"`
	}
}

type reviewClassOut struct {
	Class         string       `json:"class,omitempty"`
	Starts        unit.Instant `json:"starts_at,omitempty"`
	State         string       `json:"state,omitempty"`
	Seats         int          `json:"seats"`
	Sold          int          `json:"sold"`
	Came          int          `json:"came"`
	Missed        int          `json:"missed"`
	Pace          [5]int       `json:"pace" doc:"Seats booked 28, 21, 14, 7 and 0 days before."`
	Unserved      int          `json:"parties_not_served" doc:"On the waiting list, never offered a seat."`
	UnservedSeats int          `json:"seats_not_served"`
	Income        unit.Money   `json:"income"`
	Cost          unit.Money   `json:"cost"`
	Margin        unit.Money   `json:"margin"`
	ASeat         unit.Money   `json:"cost_of_a_seat"`
	Made          int          `json:"slabs" doc:"Guests' slabs cut."`
	Ready         unit.Day     `json:"promised,omitempty"`
	Kept          int          `json:"kept"`
	Late          int          `json:"late"`
	Worst         int          `json:"days_late_at_most"`
	Due           int          `json:"to_come"`
	Dumped        int          `json:"dumped"`
	Own           int          `json:"own_slabs"`
	Left          int          `json:"not_fetched"`
	Days          float64      `json:"days_to_fetch" doc:"On average, to a tenth."`
}

type reviewFarmOut struct {
	Farm      string      `json:"farm"`
	Species   string      `json:"species"`
	Animals   int         `json:"animals"`
	Condemned int         `json:"condemned"`
	Hot       unit.Weight `json:"hot_each"`
	Bellies   int         `json:"bellies"`
	SkinOn    int         `json:"skin_on"`
}

func reviewClassFrom(c store.ReviewClass) reviewClassOut {
	return reviewClassOut{c.Code, c.Starts, string(c.State), c.Seats, c.Sold, c.Came, c.Missed, c.Pace, c.Unserved, c.UnservedSeats,
		c.Income, c.Cost, c.Margin, c.ASeat, c.Made, c.Ready, c.Kept, c.Late, c.Worst, c.Due, c.Dumped, c.Own, c.Left, c.DaysEach()}
}

func (a *Server) reviewOperations() {
	operation(a, http.MethodGet, "/season/review", "season-review", "A season looked back on: money, promises kept, pace, farms", []shop.Role{shop.Owner},
		func(ctx context.Context, _ shop.Actor, in *reviewInput) (*reviewOutput, error) {
			from, to, err := span(in.From, in.To, a.Store.Today()-120, 120)
			if err != nil {
				return nil, err
			}
			r, err := a.Store.SeasonReview(ctx, from, to)
			if err != nil {
				return nil, err
			}
			out := &reviewOutput{}
			b := &out.Body
			b.Classes, b.Sum, b.Payers, b.Again, b.Farms = []reviewClassOut{}, reviewClassFrom(r.Sum), r.Payers, r.Again, []reviewFarmOut{}
			for _, c := range r.Classes {
				b.Classes = append(b.Classes, reviewClassFrom(c))
			}
			for _, f := range r.Farms {
				b.Farms = append(b.Farms, reviewFarmOut{f.Farm, f.Species, f.Animals, f.Condemned, shown(f.Hot), f.Bellies, f.SkinOn})
			}
			return out, nil
		})
}
