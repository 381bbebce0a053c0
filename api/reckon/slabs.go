package reckon

import (
	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

var slabsKind = define("slabs", "the cut list of delivered sides or bellies, counted per belly, and the ways out when slabs are short",
	slabsExample, runSlabs)

type ruleIn struct {
	Mode  carcass.Mode `json:"mode"`
	Min   unit.Weight  `json:"min,omitempty" doc:"lightest slab of the equal mode"`
	Max   unit.Weight  `json:"max,omitempty" doc:"heaviest slab of the equal mode"`
	Fixed unit.Weight  `json:"fixed" doc:"slab of the fixed mode, and of the equal mode's fallback"`
}

// rule is the shop's default when none is given.
func (r *ruleIn) rule() carcass.SlabRule {
	if r == nil {
		return carcass.DefaultSlabs()
	}
	return carcass.SlabRule{Mode: r.Mode, Min: r.Min, Max: r.Max, Fixed: r.Fixed}
}

func ruleFrom(r carcass.SlabRule) *ruleIn { return &ruleIn{r.Mode, r.Min, r.Max, r.Fixed} }

type sideIn struct {
	Tag   string       `json:"tag" minLength:"1"`
	Cold  unit.Weight  `json:"cold,omitempty" doc:"cold weight of the side; its belly is reckoned from it"`
	Belly unit.Weight  `json:"belly,omitempty" doc:"the rib-off belly itself, if it lies on the scale"`
	Skin  carcass.Skin `json:"skin,omitempty" doc:"skinless when not given"`
}

type unsoldIn struct {
	Code  string       `json:"code"`
	Start unit.Instant `json:"start"`
	Seats int          `json:"seats" minimum:"0" maximum:"500"`
}

type frozenIn struct {
	Tag    string       `json:"tag"`
	Weight unit.Weight  `json:"weight" doc:"rib-off belly"`
	Skin   carcass.Skin `json:"skin,omitempty"`
}

type slabsIn struct {
	Profile profileIn    `json:"profile"`
	Rule    *ruleIn      `json:"rule,omitempty" doc:"the demo shop's when not given: equal pieces of 4.25 to 5.75 lb, else 5.00 lb"`
	Sides   []sideIn     `json:"sides" maxItems:"500"`
	Wanted  int          `json:"wanted,omitempty" minimum:"0" maximum:"5000" doc:"slabs promised and for showing"`
	Demos   int          `json:"demos,omitempty" minimum:"0" maximum:"500" doc:"of the wanted slabs, the shop's own"`
	Free    int          `json:"free,omitempty" minimum:"0" maximum:"5000" doc:"slabs of the same delivery nobody claims"`
	Unsold  []unsoldIn   `json:"unsold,omitempty" maxItems:"200" doc:"unsold seats of other classes fed by the same delivery"`
	Frozen  []frozenIn   `json:"frozen,omitempty" maxItems:"200"`
	Now     unit.Instant `json:"now,omitempty" doc:"with start, whether frozen meat thaws in time"`
	Start   unit.Instant `json:"start,omitempty" doc:"of the class"`
}

type cutListOut struct {
	Tag      string       `json:"tag"`
	Belly    unit.Weight  `json:"belly"`
	Squaring unit.Weight  `json:"squaring"`
	SkinOff  unit.Weight  `json:"skin_off"`
	Net      unit.Weight  `json:"net"`
	Skin     carcass.Skin `json:"skin"`
	Count    int          `json:"count"`
	Each     unit.Weight  `json:"each"`
	Left     unit.Weight  `json:"left"`
	Mode     carcass.Mode `json:"mode"`
	Why      string       `json:"why"`
}

type wayOut struct {
	Remedy demand.Remedy `json:"remedy"`
	What   string        `json:"what"`
	Gain   int           `json:"gain"`
	Why    string        `json:"why"`
}

type dropOut struct {
	Keeps unit.Weight `json:"keeps"`
	Count int         `json:"count"`
	Under int         `json:"under"`
	Why   string      `json:"why"`
}

type slabsOut struct {
	Cuts     []cutListOut `json:"cuts"`
	Slabs    int          `json:"slabs"`
	Wanted   int          `json:"wanted"`
	Short    int          `json:"short"`
	Over     int          `json:"over"`
	Ways     []wayOut     `json:"ways"`
	StepDown *dropOut     `json:"step_down,omitempty"`
}

func slabsExample() slabsIn {
	lbs := func(f float64) unit.Weight { return unit.WeightOfPounds(f) }
	return slabsIn{Profile: profileFrom(carcass.Example()), Rule: ruleFrom(carcass.DefaultSlabs()), Wanted: 12, Demos: 1,
		Sides: []sideIn{{Tag: "pig 1 L", Cold: lbs(100.6)}, {Tag: "pig 1 R", Cold: lbs(101.2)}, {Tag: "pig 2 L", Cold: lbs(90.8)}, {Tag: "pig 2 R", Cold: lbs(91.6)}}}
}

func runSlabs(in slabsIn) (slabsOut, error) {
	s := demand.Shortage{Profile: in.Profile.profile(), Rule: in.Rule.rule(), Wanted: in.Wanted, Demos: in.Demos, Free: in.Free, Now: in.Now, Start: in.Start}
	var faults unit.Faults
	faults.Under("profile", s.Profile.Check())
	faults.Under("rule", s.Rule.Check())
	for i, side := range in.Sides {
		if (side.Cold > 0) == (side.Belly > 0) {
			faults.Add(at("sides", i), "give either the side's cold weight or its belly's, above zero")
		}
		faults.Under(at("sides", i)+".cold", sensible(side.Cold))
		faults.Under(at("sides", i)+".belly", sensible(side.Belly))
		s.Sides = append(s.Sides, carcass.Side{Tag: side.Tag, Cold: side.Cold, Belly: side.Belly, Skin: side.Skin})
	}
	for _, u := range in.Unsold {
		s.Unsold = append(s.Unsold, demand.Unsold{Code: u.Code, Start: u.Start, Seats: u.Seats})
	}
	for i, f := range in.Frozen {
		faults.Under(at("frozen", i)+".weight", sensible(f.Weight))
		s.Frozen = append(s.Frozen, demand.Frozen{Tag: f.Tag, Weight: f.Weight, Skin: f.Skin})
	}
	if len(in.Frozen) > 0 && (in.Now == 0 || in.Start == 0) {
		faults.Add("now", "frozen meat needs now and start, to say whether it thaws in time")
	}
	if in.Demos > in.Wanted {
		faults.Add("demos", "more slabs for showing than slabs wanted")
	}
	if err := faults.Err(); err != nil {
		return slabsOut{}, err
	}

	r := s.Recount()
	out := slabsOut{Cuts: []cutListOut{}, Slabs: r.Slabs, Wanted: r.Wanted, Short: r.Short, Over: r.Over, Ways: []wayOut{}}
	for _, c := range r.Cuts {
		out.Cuts = append(out.Cuts, cutListOut{c.Tag, lb(c.Belly), lb(c.Squaring), lb(c.SkinOff), lb(c.Net), c.Skin,
			c.Slabs.Count, lb(c.Slabs.Each), lb(c.Slabs.Left), c.Slabs.Mode, c.Slabs.Why})
	}
	for _, w := range r.Ways {
		out.Ways = append(out.Ways, wayOut{w.Remedy, w.What, w.Gain, w.Why})
	}
	if d, ok := s.Profile.StepDown(s.Rule, carcass.Skinless, s.Profile.HCW); ok {
		out.StepDown = &dropOut{d.Keeps, d.Count, d.Under, d.Why}
	}
	return out, nil
}
