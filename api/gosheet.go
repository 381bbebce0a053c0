package api

import (
	"context"
	"math"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

type goSheetOutput struct {
	Body struct {
		Code      string       `json:"code"`
		State     string       `json:"state"`
		DecideBy  unit.Instant `json:"decide_by,omitempty"`
		Passed    bool         `json:"passed"`
		Sold      int          `json:"sold"`
		Seats     int          `json:"seats"`
		Minimum   int          `json:"minimum"`
		Missing   int          `json:"missing"`
		Expected  int          `json:"expected"`
		Low       int          `json:"expected_low"`
		High      int          `json:"expected_high"`
		Covers    unit.Ratio   `json:"covers" doc:"How often such a band holds; 0 without a history."`
		Hidden    bool         `json:"history_sold_out" doc:"What is expected is a floor."`
		Beside    string       `json:"pace"`
		Pace      []paceOut    `json:"pace_of_its_kind"`
		Animals   int          `json:"animals"`
		Without   int          `json:"animals_without_it"`
		Slabs     int          `json:"slabs"`
		Spoken    int          `json:"slabs_spoken_for"`
		House     int          `json:"slabs_to_house_bacon"`
		Homes     []homeOut    `json:"if_it_does_not_fill"`
		BreakEven int          `json:"break_even" doc:"Seats at today's price; 0: not with every seat sold."`
		Bets      []goBetOut   `json:"bets"`
		Paid      unit.Money   `json:"paid"`
		Credit    unit.Money   `json:"most_credit" doc:"If it is called off and every party takes a credit for its money."`
		Problem   string       `json:"problem,omitempty"`
	}
}

type paceOut struct {
	Before int     `json:"days_before"`
	Mean   float64 `json:"mean"`
	Low    int     `json:"low"`
	High   int     `json:"high"`
	This   *int    `json:"this_class,omitempty" doc:"Left out for days to come."`
}

type homeOut struct {
	Home bool   `json:"home" doc:"false: it has no other home."`
	Text string `json:"text"`
}

type goBetOut struct {
	Name   string     `json:"name"`
	Seats  int        `json:"seats"`
	Income unit.Money `json:"income"`
	Cost   unit.Money `json:"cost"`
	Margin unit.Money `json:"margin"`
}

func (a *Server) goSheetOperations() {
	operation(a, http.MethodGet, "/classes/{code}/go-sheet", "go-sheet", "What to know before saying go or call off; it never says which", []shop.Role{shop.Owner},
		func(ctx context.Context, _ shop.Actor, in *classPath) (*goSheetOutput, error) {
			g, err := a.Store.GoSheet(ctx, in.Code)
			if err != nil {
				return nil, err
			}
			out := &goSheetOutput{}
			b := &out.Body
			b.Code, b.State, b.DecideBy, b.Passed = g.Class.Code, string(g.Class.State), g.OrderBy, g.Passed
			b.Sold, b.Seats, b.Minimum, b.Missing = g.Sold, g.GoSheet.Seats, g.Min, g.Missing
			b.Expected, b.Low, b.High, b.Covers, b.Hidden, b.Beside = g.Expect.Seats, g.Expect.Low, g.Expect.High, g.Expect.Cover, g.Expect.Hidden, g.Beside
			b.Animals, b.Without, b.Slabs, b.Spoken, b.House, b.BreakEven = g.Animals, g.Without, g.Slabs, g.Spoken, g.House, g.Even
			b.Paid, b.Credit, b.Problem = g.Paid, g.Credit, g.Problem
			b.Pace, b.Homes, b.Bets = []paceOut{}, []homeOut{}, []goBetOut{}
			for _, p := range g.Pace {
				row := paceOut{Before: p.Before, Mean: math.Round(p.Mean*10) / 10, Low: p.Low, High: p.High}
				if p.Known {
					row.This = &p.This
				}
				b.Pace = append(b.Pace, row)
			}
			for _, h := range g.Homes {
				b.Homes = append(b.Homes, homeOut{h.Good, h.Text})
			}
			for _, t := range g.Bets {
				b.Bets = append(b.Bets, goBetOut{t.Name, t.Seats, t.Account.Income, t.Account.Cost, t.Account.Margin})
			}
			return out, nil
		})
}
