package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

type meatSheetInput struct {
	From string `query:"from" format:"date" doc:"First kill day; today when left out."`
	To   string `query:"to" format:"date" doc:"Last kill day; four months on when left out."`
}

// span reads two days from an address; either may be left out.
func span(from, to string, today, length unit.Day) (a, b unit.Day, err error) {
	var w shop.Wrong
	read := func(name, s string, otherwise unit.Day) unit.Day {
		if s == "" {
			return otherwise
		}
		d, err := unit.ParseDay(s)
		w.AddErr(name, err)
		return d
	}
	a = read("from", from, today)
	b = read("to", to, a+length)
	if w.Err() == nil && (b < a || b > a+400) {
		w.Add("to", "Ask for at most 400 days, the first before the last.")
	}
	return a, b, w.Err()
}

type meatSheetOutput struct {
	Body struct {
		Kills []killOut  `json:"kills"`
		Loose []looseOut `json:"without_kill_day" doc:"Classes that have no kill day yet, with the best day for each group."`
	}
}

type killOut struct {
	Kill     unit.Day     `json:"kill"`
	Delivery unit.Day     `json:"delivery"`
	OrderBy  unit.Instant `json:"order_by"`
	Passed   bool         `json:"order_by_passed"`
	Species  string       `json:"species"`
	Farm     string       `json:"farm" doc:"The farm's code."`
	Order    int          `json:"order,omitempty" doc:"Number of the order, once drafted."`
	State    string       `json:"state,omitempty"`
	Classes  []string     `json:"classes"`
	Places   placesOut    `json:"places" doc:"Our places on that kill day."`
	Sold     betOut       `json:"sold"`
	Expected betOut       `json:"expected"`
	Full     betOut       `json:"full"`
	Standing string       `json:"standing,omitempty"`
	Problem  string       `json:"problem,omitempty"`
	Cost     unit.Money   `json:"cost_of_one"`
	Brings   unit.Money   `json:"leaves_bring" doc:"What the expected order leaves fetches through the week's outlets."`
	Homeless unit.Weight  `json:"without_a_home" doc:"What no outlet takes of it that week."`
}

type placesOut struct {
	Taken    int `json:"taken"`
	Capacity int `json:"capacity"`
}

type betOut struct {
	Slabs   int         `json:"slabs"`
	Bellies int         `json:"bellies"`
	Halves  int         `json:"halves"`
	Animals int         `json:"animals"`
	Leaves  unit.Weight `json:"leaves" doc:"What it leaves to sell besides bellies."`
	Cuts    []cutOut    `json:"cuts"`
	Worth   unit.Money  `json:"worth"`
	Lines   []string    `json:"lines" doc:"The reckoning."`
}

type cutOut struct {
	Cut    string      `json:"cut"`
	Weight unit.Weight `json:"weight"`
}

type looseOut struct {
	Classes []string `json:"classes"`
	Species string   `json:"species"`
	Animals int      `json:"animals"`
	Kill    unit.Day `json:"kill,omitempty"`
	Advice  string   `json:"advice,omitempty"`
}

func betOf(b store.MeatBet) betOut {
	o := betOut{Slabs: b.Slabs, Bellies: b.Bellies, Halves: b.Halves, Animals: b.Animals, Leaves: shown(b.Leaves.Total), Worth: b.Worth, Cuts: []cutOut{}, Lines: []string{}}
	for _, c := range b.Leaves.Cuts {
		o.Cuts = append(o.Cuts, cutOut{c.Name, shown(c.Weight)})
	}
	for _, l := range b.Lines {
		o.Lines = append(o.Lines, lineText(l))
	}
	return o
}

func lineText(l demand.Line) string {
	if l.Code == "" {
		return l.Text
	}
	return l.Code + ": " + l.Text
}

// shown rounds a reckoned weight to the hundredth of a pound that people read.
func shown(w unit.Weight) unit.Weight { return w.Round(unit.Pound / 100) }

func codes(classes []store.MeatClass) []string {
	out := []string{}
	for _, c := range classes {
		out = append(out, c.Code)
	}
	return out
}

type planKillInput struct {
	Body struct {
		Classes []string `json:"classes" minItems:"1" maxItems:"20" doc:"Codes."`
		Kill    unit.Day `json:"kill"`
	}
}

type floorInput struct {
	Body struct {
		From    unit.Day `json:"from"`
		To      unit.Day `json:"to" doc:"Included."`
		Species []string `json:"species,omitempty" doc:"None: all."`
		Reason  string   `json:"reason"`
		Told    unit.Day `json:"announced_on,omitempty" doc:"When the plant said so; today when left out."`
		Look    bool     `json:"look,omitempty" doc:"Only say what it touches; enter nothing."`
	}
}

type floorOutput struct {
	Body struct {
		Touched []touchOut `json:"touched"`
	}
}

type touchOut struct {
	Class    string     `json:"class"`
	People   int        `json:"people"`
	MeatOnly bool       `json:"meat_only"`
	Order    string     `json:"order,omitempty"`
	OldKill  unit.Day   `json:"old_kill"`
	NewKill  unit.Day   `json:"new_kill,omitempty"`
	Instead  []unit.Day `json:"instead,omitempty" doc:"Other days for the class, nearest first."`
}

type hangInput struct {
	Kill    string `query:"kill" format:"date" required:"true"`
	Species string `query:"species" enum:"pork,beef,lamb,deer" required:"true"`
	Order   int    `query:"order" minimum:"0" doc:"Its number, where two orders share the kill."`
	Hang    string `query:"hang" maxLength:"20" doc:"Hot weight of one animal, such as 200 lb; the farm's usual when left out."`
	Count   string `query:"count" enum:"sold,expected,full" doc:"Seats counted; full when left out."`
}

type hangOutput struct {
	Body struct {
		Kill      unit.Day    `json:"kill"`
		Classes   []string    `json:"classes"`
		Animals   int         `json:"animals" doc:"Ordered, or needed at the usual weight."`
		Usual     unit.Weight `json:"usual"`
		Hang      unit.Weight `json:"hang"`
		Wanted    int         `json:"wanted"`
		Bellies   int         `json:"bellies"`
		UsualGive int         `json:"slabs_at_usual"`
		Slabs     int         `json:"slabs" doc:"Skinless."`
		Short     int         `json:"short"`
		SkinSlabs int         `json:"slabs_skin_on" doc:"With the skin on every belly."`
		Skins     int         `json:"skins_to_leave_on" doc:"Fewest bellies that must keep their skin so that none is short; -1: not enough."`
		Needs     int         `json:"animals_needed" doc:"At this weight; 0: no number is enough."`
		Each      unit.Weight `json:"each"`
		Drop      string      `json:"drop,omitempty" doc:"The next weight below at which slabs are lost."`
		Leaves    unit.Weight `json:"leaves"`
	}
}

// nothing is the answer of a use case that only does.
type nothing struct{}

func (a *Server) meatOperations() {
	owner := []shop.Role{shop.Owner}
	operation(a, http.MethodGet, "/meat", "meat-sheet", "What coming kills are to bring, and what that leaves", owner,
		func(ctx context.Context, _ shop.Actor, in *meatSheetInput) (*meatSheetOutput, error) {
			from, to, err := span(in.From, in.To, a.Store.Today(), 120)
			if err != nil {
				return nil, err
			}
			m, err := a.Store.MeatSheet(ctx, from, to)
			if err != nil {
				return nil, err
			}
			out := &meatSheetOutput{}
			out.Body.Kills, out.Body.Loose = []killOut{}, []looseOut{}
			for _, g := range m.Groups {
				k := killOut{Kill: g.Kill, Delivery: g.Deliver, OrderBy: g.OrderBy, Passed: g.Passed, Species: g.Species, Farm: g.Farm.Code, Classes: codes(g.Classes),
					Places: placesOut{g.Slot.Taken, g.Slot.Capacity}, Sold: betOf(g.Bets[0]), Expected: betOf(g.Bets[1]), Full: betOf(g.Bets[2]),
					Standing: g.Standing, Problem: g.Problem, Cost: g.Cost, Brings: g.Sales.Money, Homeless: shown(g.Sales.Over)}
				if g.Order != nil {
					k.Order, k.State = g.Order.Number, string(g.Order.State)
				}
				out.Body.Kills = append(out.Body.Kills, k)
			}
			for _, l := range m.Loose {
				o := looseOut{Classes: []string{}, Species: l.Species, Animals: l.Animals, Kill: l.Choice.Chosen.Kill, Advice: l.Choice.Advice}
				for _, c := range l.Classes {
					o.Classes = append(o.Classes, c.Code)
				}
				out.Body.Loose = append(out.Body.Loose, o)
			}
			return out, nil
		})
	operation(a, http.MethodGet, "/meat/weight", "what-if-weight", "What a kill's animals give at another hanging weight", owner,
		func(ctx context.Context, _ shop.Actor, in *hangInput) (*hangOutput, error) {
			ask := store.HangAsk{Species: in.Species, Order: in.Order, Level: demand.Full}
			var w shop.Wrong
			var err error
			ask.Kill, err = unit.ParseDay(in.Kill)
			w.AddErr("kill", err)
			if in.Hang != "" {
				ask.Hang, err = unit.ParseWeight(in.Hang)
				w.AddErr("hang", err)
			}
			switch in.Count {
			case "sold":
				ask.Level = demand.Sold
			case "expected":
				ask.Level = demand.Expected
			}
			if err := w.Err(); err != nil {
				return nil, err
			}
			h, err := a.Store.HangSheet(ctx, ask)
			if err != nil {
				return nil, err
			}
			out := &hangOutput{}
			b, at := &out.Body, h.At
			b.Kill, b.Classes, b.Animals, b.Usual, b.Hang, b.Wanted, b.Bellies = h.Kill, h.Codes, at.Animals, h.Usual, at.HCW, at.Wanted, at.Bellies
			b.UsualGive, b.Slabs, b.Short, b.SkinSlabs, b.Skins, b.Needs = h.Same.Slabs, at.Slabs, at.Short, at.SkinSlabs, at.Skins, at.Needs
			b.Each, b.Drop, b.Leaves = shown(at.Plain.Slabs.Each), h.Drop, shown(at.Leaves.Total)
			return out, nil
		})
	operation(a, http.MethodPost, "/meat/plan", "plan-kill", "Plan classes from one kill day", owner,
		func(ctx context.Context, by shop.Actor, in *planKillInput) (*nothing, error) {
			return &nothing{}, a.Store.PlanKills(ctx, by, in.Body.Classes, in.Body.Kill)
		})
	operation(a, http.MethodPost, "/meat/floor", "close-floor", "Enter a span in which the plant does not kill", owner,
		func(ctx context.Context, by shop.Actor, in *floorInput) (*floorOutput, error) {
			c := store.Closing{From: in.Body.From, To: in.Body.To, Species: in.Body.Species, Reason: in.Body.Reason, Told: in.Body.Told}
			touched, err := a.Store.FloorImpact(ctx, c)
			if err == nil && !in.Body.Look {
				touched, err = a.Store.CloseFloor(ctx, by, c)
			}
			if err != nil {
				return nil, err
			}
			out := &floorOutput{}
			out.Body.Touched = []touchOut{}
			for _, f := range touched {
				o := touchOut{Class: f.Class.Code, People: f.People, MeatOnly: f.MeatOnly, Order: f.Order, OldKill: f.OldKill, NewKill: f.NewKill}
				for _, i := range f.Instead {
					o.Instead = append(o.Instead, i.Day)
				}
				out.Body.Touched = append(out.Body.Touched, o)
			}
			return out, nil
		})
}
