package reckon

import (
	"errors"
	"math"

	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

// betIn is a newsvendor question: how many units to order before the demand is known.
type betIn struct {
	Short   *unit.Money `json:"short,omitempty" doc:"margin lost a unit short; or give price and cost"`
	Over    *unit.Money `json:"over,omitempty" doc:"loss a unit left over; or give cost and salvage"`
	Price   *unit.Money `json:"price,omitempty"`
	Cost    *unit.Money `json:"cost,omitempty"`
	Salvage *unit.Money `json:"salvage,omitempty" doc:"what a unit left over still fetches"`
	Normal  *normalIn   `json:"normal,omitempty" doc:"one of normal, uniform, chances"`
	Uniform *uniformIn  `json:"uniform,omitempty"`
	Chances []chanceIn  `json:"chances,omitempty" maxItems:"500" doc:"whole units, such as halves"`
	Step    int         `json:"step,omitempty" minimum:"0" maximum:"100" doc:"order in multiples of so many units: 2 halves are a whole animal"`
	Most    int         `json:"most,omitempty" minimum:"0" maximum:"5000" doc:"what cooler or shop can take"`
}

type normalIn struct {
	Mean float64 `json:"mean" minimum:"0" maximum:"1000000"`
	SD   float64 `json:"sd" minimum:"0" maximum:"1000000"`
}

type uniformIn struct {
	Low  float64 `json:"low" minimum:"0" maximum:"1000000"`
	High float64 `json:"high" minimum:"0" maximum:"1000000"`
}

type chanceIn struct {
	Units int     `json:"units" minimum:"0" maximum:"5000"`
	P     float64 `json:"p" minimum:"0" maximum:"1"`
}

type triedOut struct {
	Units int        `json:"units"`
	Cost  unit.Money `json:"cost"`
}

type betOut struct {
	Short    unit.Money  `json:"short"`
	Over     unit.Money  `json:"over"`
	Ratio    float64     `json:"critical_ratio,omitempty"`
	Quantity float64     `json:"quantity,omitempty" doc:"the fractile, before rounding"`
	Lost     float64     `json:"expected_short,omitempty"`
	Profit   *unit.Money `json:"expected_profit,omitempty"`
	Best     *triedOut   `json:"best,omitempty" doc:"by expected cost over whole steps"`
	Tried    []triedOut  `json:"tried,omitempty"`
	Note     string      `json:"note,omitempty"`
}

func (b betIn) stake(faults *unit.Faults) demand.Stake {
	var s demand.Stake
	switch {
	case b.Short != nil:
		s.Short = float64(*b.Short)
	case b.Price != nil && b.Cost != nil:
		s.Short = float64(*b.Price - *b.Cost)
	default:
		faults.Add("bet.short", "give short, or price and cost")
	}
	switch {
	case b.Over != nil:
		s.Over = float64(*b.Over)
	case b.Cost != nil && b.Salvage != nil:
		s.Over = float64(*b.Cost - *b.Salvage)
	default:
		faults.Add("bet.over", "give over, or cost and salvage")
	}
	return s
}

// answer reckons the bet; faults go to fields under "bet".
func (b betIn) answer(faults *unit.Faults) *betOut {
	s := b.stake(faults)
	given := 0
	for _, is := range []bool{b.Normal != nil, b.Uniform != nil, len(b.Chances) > 0} {
		if is {
			given++
		}
	}
	if given != 1 {
		faults.Add("bet", "give one of normal, uniform, chances")
	}
	var d demand.Discrete
	for _, c := range b.Chances {
		d = append(d, demand.Chance{Units: c.Units, P: c.P})
	}
	if len(d) > 0 {
		if err := d.Check(); err != nil {
			faults.Add("bet.chances", err.Error())
		}
	}
	if b.Uniform != nil && b.Uniform.High < b.Uniform.Low {
		faults.Add("bet.uniform.high", "the high end lies under the low one")
	}
	if len(*faults) > 0 {
		return nil
	}
	out := &betOut{Short: unit.Money(s.Short), Over: unit.Money(s.Over)}
	cr, err := s.Critical()
	switch {
	case errors.Is(err, demand.ErrNoFractile) && b.Most == 0:
		out.Note = err.Error()
		return out
	case err != nil:
		out.Note = err.Error()
	default:
		out.Ratio = round(cr, 4)
	}
	switch {
	case len(d) > 0:
		best, all, err := d.BestUnits(s, b.Step, b.Most)
		if err != nil {
			faults.Add("bet.chances", err.Error())
			return nil
		}
		out.Best = &triedOut{best.Units, toMoney(best.Cost)}
		for _, t := range all {
			out.Tried = append(out.Tried, triedOut{t.Units, toMoney(t.Cost)})
		}
		if out.Ratio > 0 {
			out.Quantity = float64(d.Quantity(cr))
		}
	case out.Ratio == 0: // no fractile of a continuous demand: the cap, or nothing
		if errors.Is(err, demand.ErrNoFractile) {
			out.Quantity = float64(b.Most)
		}
	case b.Normal != nil:
		n := demand.Normal{Mean: b.Normal.Mean, SD: b.Normal.SD}
		q := max(n.Quantity(cr), 0)
		profit := toMoney(n.Profit(q, s))
		out.Quantity, out.Lost, out.Profit = round(q, 2), round(n.Lost(q), 2), &profit
	default:
		out.Quantity = round(demand.Uniform{Low: b.Uniform.Low, High: b.Uniform.High}.Quantity(cr), 2)
	}
	return out
}

func round(f float64, places int) float64 {
	p := math.Pow10(places)
	return math.Round(f*p) / p
}

func toMoney(f float64) unit.Money { return unit.Money(math.Round(f)) }

// comeIn asks what selling more places than there are would come to, and who came of
// those who had registered.
type comeIn struct {
	Places     int     `json:"places,omitempty" minimum:"0" maximum:"500"`
	Sold       int     `json:"sold,omitempty" minimum:"0" maximum:"500"`
	Show       float64 `json:"show,omitempty" minimum:"0" maximum:"1" doc:"chance that a guest comes, each for themselves"`
	Registered int     `json:"registered,omitempty" minimum:"0" maximum:"100000"`
	Cancelled  int     `json:"cancelled,omitempty" minimum:"0" maximum:"100000"`
	Came       int     `json:"came,omitempty" minimum:"0" maximum:"100000"`
}

type comeOut struct {
	AllCome float64    `json:"all_come" doc:"chance that everybody comes"`
	TooMany float64    `json:"too_many" doc:"chance that more come than there are places"`
	Turned  float64    `json:"turned_away" doc:"people, on average"`
	NoShows int        `json:"no_shows"`
	Rate    unit.Ratio `json:"no_show_rate" doc:"of those who had not cancelled"`
}

func (c comeIn) answer(faults *unit.Faults) *comeOut {
	if c.Cancelled+c.Came > c.Registered {
		faults.Add("come.came", "more cancelled or came than had registered")
		return nil
	}
	o := demand.Overbook(c.Places, c.Sold, c.Show)
	t := demand.Turnout{Registered: c.Registered, Cancelled: c.Cancelled, Came: c.Came}
	return &comeOut{round(o.All, 4), round(o.Over, 4), round(o.Turned, 4), t.NoShows(), pct(t.Rate())}
}
