package reckon

import (
	"time"

	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

var demandKind = define("demand", "seats to slabs, bellies, halves and animals of one order, for seats sold, expected and full",
	demandExample, runDemand)

type seatsIn struct {
	Sold     int  `json:"sold" minimum:"0" maximum:"500"`
	Expected *int `json:"expected,omitempty" minimum:"0" maximum:"500" doc:"forecast from history when not given"`
	Full     int  `json:"full" minimum:"0" maximum:"500"`
}

type pastIn struct {
	OnHand int `json:"on_hand" minimum:"0" maximum:"500" doc:"seats sold as many days before"`
	Final  int `json:"final" minimum:"0" maximum:"500"`
	Seats  int `json:"seats,omitempty" minimum:"0" maximum:"500" doc:"seats it had, to know whether it was sold out"`
}

type classIn struct {
	Code      string        `json:"code" minLength:"1"`
	Unit      demand.Unit   `json:"unit"`
	Day       unit.Day      `json:"day"`
	Seats     seatsIn       `json:"seats"`
	History   []pastIn      `json:"history,omitempty" maxItems:"500" doc:"earlier classes of the kind, seen as many days before"`
	Method    demand.Method `json:"method,omitempty" doc:"how seats expected are forecast; additive when not given"`
	Second    int           `json:"second,omitempty" minimum:"0" doc:"second slabs sold"`
	Demo      int           `json:"demo,omitempty" minimum:"0" maximum:"500" doc:"slabs for showing"`
	PerUnit   int           `json:"per_unit,omitempty" minimum:"0" maximum:"500" doc:"guests a half, hindquarter or whole animal"`
	BellyHome bool          `json:"belly_home,omitempty" doc:"guests take the belly home"`
	CutsHome  bool          `json:"cuts_home,omitempty" doc:"guests take the other cuts home"`
}

type demandIn struct {
	Profile    profileIn    `json:"profile"`
	Rule       *ruleIn      `json:"rule,omitempty"`
	Skin       carcass.Skin `json:"skin,omitempty" doc:"how bellies are cut; skinless when not given"`
	ShareUnits bool         `json:"share_units,omitempty" doc:"clinics of one day may share a half"`
	Ordered    int          `json:"ordered,omitempty" minimum:"0" maximum:"1000" doc:"animals already ordered, to compare"`
	Classes    []classIn    `json:"classes" maxItems:"200"`
	Bet        *betIn       `json:"bet,omitempty" doc:"how many to order before the demand is known, by what short and over cost"`
	Come       *comeIn      `json:"come,omitempty" doc:"who comes of those who booked: no-shows, and why the shop never sells a seat twice"`
}

type lineOut struct {
	Class string `json:"class,omitempty"`
	Text  string `json:"text"`
}

type standingOut struct {
	HaveSides int    `json:"have_sides"`
	NeedSides int    `json:"need_sides"`
	Over      int    `json:"over"`
	Short     int    `json:"short"`
	Text      string `json:"text"`
}

type needOut struct {
	Slabs        int          `json:"slabs"`
	PerBelly     int          `json:"per_belly"`
	Bellies      int          `json:"bellies"`
	Extra        int          `json:"bellies_of_their_own"`
	Halves       int          `json:"halves"`
	Hindquarters int          `json:"hindquarters"`
	Wholes       int          `json:"wholes"`
	Sides        int          `json:"sides"`
	Animals      int          `json:"animals"`
	SlabsOver    int          `json:"slabs_over"`
	BelliesLeft  int          `json:"bellies_left"`
	SpareSides   int          `json:"spare_sides"`
	Forequarters int          `json:"forequarters"`
	Leaves       leftOut      `json:"leaves"`
	TakenHome    *leftOut     `json:"taken_home,omitempty"`
	Lines        []lineOut    `json:"lines"`
	Standing     *standingOut `json:"against_order,omitempty"`
}

type forecastOut struct {
	Class  string        `json:"class"`
	Seats  int           `json:"seats"`
	Guess  bool          `json:"guess"`
	Method demand.Method `json:"method"`
	Low    int           `json:"low"`
	High   int           `json:"high"`
	Covers unit.Ratio    `json:"covers,omitempty" doc:"how often such a band holds"`
	Error  float64       `json:"mean_error,omitempty" doc:"seats, each past class forecast from the others"`
	Unmet  float64       `json:"unmet,omitempty" doc:"beyond the seats there are"`
	Hidden bool          `json:"hidden,omitempty" doc:"past classes were sold out: more may want to come"`
	Others []otherOut    `json:"other_methods,omitempty"`
	Why    string        `json:"why"`
}

type otherOut struct {
	Method demand.Method `json:"method"`
	Final  float64       `json:"final" doc:"before any cap"`
	Error  float64       `json:"mean_error"`
}

func forecastFrom(code string, f demand.Forecast, history []demand.Past, onHand int) forecastOut {
	out := forecastOut{Class: code, Seats: f.Seats, Guess: f.Guess, Method: f.Method, Low: f.Low, High: f.High, Covers: pct(f.Cover),
		Error: round(f.Error, 2), Unmet: round(f.Unmet, 2), Hidden: f.Hidden, Why: f.Why}
	if f.Cover == 0 {
		return out
	}
	for m := demand.Additive; m <= demand.RatioOfSums; m++ {
		if m == f.Method {
			continue
		}
		final, _ := m.Final(history, onHand)
		out.Others = append(out.Others, otherOut{m, round(final, 2), round(m.MeanAbsError(history), 2)})
	}
	return out
}

type demandOut struct {
	Forecasts []forecastOut `json:"forecasts"`
	Sold      needOut       `json:"sold"`
	Expected  needOut       `json:"expected"`
	Full      needOut       `json:"full"`
	Bet       *betOut       `json:"bet,omitempty"`
	Come      *comeOut      `json:"come,omitempty"`
}

func demandExample() demandIn {
	eight := 8
	return demandIn{Profile: profileFrom(carcass.Example()), Rule: ruleFrom(carcass.DefaultSlabs()), Classes: []classIn{
		{Code: "D1", Unit: demand.Half, Day: unit.DayOf(2026, time.October, 15), Seats: seatsIn{Sold: 6, Expected: &eight, Full: 12}, PerUnit: 12},
		{Code: "B2", Unit: demand.Belly, Day: unit.DayOf(2026, time.October, 17), Seats: seatsIn{Sold: 7, Full: 10}, Demo: 1,
			History: []pastIn{{6, 10, 10}, {4, 8, 10}, {7, 9, 10}}},
	}}
}

func runDemand(in demandIn) (demandOut, error) {
	d := demand.Input{Profile: in.Profile.profile(), Rule: in.Rule.rule(), Skin: in.Skin, ShareUnits: in.ShareUnits}
	out := demandOut{Forecasts: []forecastOut{}}
	for _, c := range in.Classes {
		seats := demand.Seats{Sold: c.Seats.Sold, Full: c.Seats.Full}
		if c.Seats.Expected != nil {
			seats.Expected = *c.Seats.Expected
		} else {
			var history []demand.Past
			for _, h := range c.History {
				history = append(history, demand.Past{OnHand: h.OnHand, Final: h.Final, Seats: h.Seats})
			}
			f := c.Method.Expect(history, seats.Sold, seats.Full)
			seats.Expected = f.Seats
			out.Forecasts = append(out.Forecasts, forecastFrom(c.Code, f, history, seats.Sold))
		}
		d.Classes = append(d.Classes, demand.Class{Code: c.Code, Unit: c.Unit, Day: c.Day, Seats: seats, Second: c.Second, Demo: c.Demo,
			PerUnit: c.PerUnit, BellyHome: c.BellyHome, CutsHome: c.CutsHome})
	}
	if in.Bet != nil {
		var faults unit.Faults
		if out.Bet = in.Bet.answer(&faults); len(faults) > 0 {
			return demandOut{}, faults
		}
	}
	if in.Come != nil {
		var faults unit.Faults
		if out.Come = in.Come.answer(&faults); len(faults) > 0 {
			return demandOut{}, faults
		}
	}
	p, err := demand.Order(d)
	if err != nil {
		return demandOut{}, err
	}
	if err := p.Check(d); err != nil {
		return demandOut{}, err
	}
	out.Sold, out.Expected, out.Full = needFrom(p.Sold, in.Ordered), needFrom(p.Expected, in.Ordered), needFrom(p.Full, in.Ordered)
	return out, nil
}

func needFrom(n demand.Need, ordered int) needOut {
	out := needOut{Slabs: n.Slabs, PerBelly: n.PerBelly, Bellies: n.Bellies, Extra: n.Extra,
		Halves: n.Halves, Hindquarters: n.Hindquarters, Wholes: n.Wholes, Sides: n.Sides, Animals: n.Animals,
		SlabsOver: n.SlabsOver, BelliesLeft: n.BelliesLeft, SpareSides: n.SpareSides, Forequarters: n.Forequarters,
		Leaves: leftFrom(n.Leaves), Lines: []lineOut{}}
	if n.TakenHome.Sides > 0 {
		home := leftFrom(n.TakenHome)
		out.TakenHome = &home
	}
	for _, l := range n.Lines {
		out.Lines = append(out.Lines, lineOut{l.Code, l.Text})
	}
	if ordered > 0 {
		s := n.Against(ordered)
		out.Standing = &standingOut{s.Have, s.Need, s.Over, s.Short, s.Text}
	}
	return out
}
