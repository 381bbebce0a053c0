package reckon

import (
	"strconv"
	"time"

	"flitchbook/planner/cure"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

var heatKind = define("heat", "what a core temperature log amounts to in logs of Salmonella, for information only", heatExample, runHeat)

var coolingKind = define("cooling", "whether a log of the warmest point keeps each published cooling rule", coolingExample, runCooling)

type heatIn struct {
	Points []minutePoint `json:"points" minItems:"2" maxItems:"100000" doc:"core of the product"`
}

type minutePoint struct {
	Minutes float64   `json:"minutes" minimum:"0" maximum:"100000" doc:"since the log began"`
	Temp    unit.Temp `json:"temp"`
}

type heatOut struct {
	F150   float64  `json:"minutes_at_150_f" doc:"that do as much"`
	Logs   float64  `json:"logs" doc:"of Salmonella"`
	Met    bool     `json:"reaches_6.5_logs"`
	Status string   `json:"status"`
	Notes  []string `json:"notes"`
}

func heatExample() heatIn {
	f := unit.Fahrenheit
	return heatIn{[]minutePoint{{0, 120 * f}, {25, 145 * f}}}
}

func runHeat(in heatIn) (heatOut, error) {
	points := make([]heat.Point, len(in.Points))
	for i, p := range in.Points {
		points[i] = heat.Point{After: time.Duration(p.Minutes * float64(time.Minute)), Temp: p.Temp}
	}
	k, err := heat.Lethality(points)
	if err != nil {
		return heatOut{}, err
	}
	return heatOut{shown(k.F150, 4), shown(k.Logs, 3), k.Met, k.Status, k.Notes}, nil
}

type coolingIn struct {
	Points   []hourPoint `json:"points" minItems:"1" maxItems:"100000" doc:"the product's warmest point"`
	Ingoing  cure.PPM    `json:"ingoing,omitempty" doc:"nitrite by green weight"`
	Salt     float64     `json:"salt_percent,omitempty" minimum:"0" maximum:"100" doc:"of the product"`
	Moisture float64     `json:"moisture_percent,omitempty" minimum:"0" maximum:"100" doc:"of the lean; 72 without it"`
	Water    float64     `json:"water_activity,omitempty" minimum:"0" maximum:"1" doc:"measured"`
}

type hourPoint struct {
	Hours float64   `json:"hours" minimum:"0" maximum:"10000" doc:"since the log began"`
	Temp  unit.Temp `json:"temp"`
}

type coolingOut struct {
	Brine float64       `json:"brine_percent" doc:"salt in the water"`
	Rules []ruleOutcome `json:"rules"`
}

type ruleOutcome struct {
	Rule    string       `json:"rule"`
	Source  string       `json:"source"`
	Outcome heat.Outcome `json:"outcome"`
	Why     string       `json:"why"`
	Bands   []bandOut    `json:"bands"`
}

type bandOut struct {
	From    unit.Temp `json:"from"`
	To      unit.Temp `json:"to"`
	Hours   float64   `json:"hours"`
	Within  float64   `json:"within_hours" doc:"0: no time is named"`
	Reached bool      `json:"reached" doc:"the log fell to the band's end"`
}

func coolingExample() coolingIn {
	f := unit.Fahrenheit
	return coolingIn{Points: []hourPoint{{0, 142 * f}, {1, 90 * f}, {2, 70 * f}, {4, 50 * f}, {6, 38 * f}}, Ingoing: 156 * cure.MgPerKg, Salt: 2.75, Moisture: 72}
}

func runCooling(in coolingIn) (coolingOut, error) {
	points := make([]heat.Point, len(in.Points))
	for i, p := range in.Points {
		points[i] = heat.Point{After: time.Duration(p.Hours * float64(time.Hour)), Temp: p.Temp}
	}
	if in.Moisture == 0 {
		in.Moisture = cure.LeanMoisture
	}
	brine := cure.Brine(in.Salt, in.Moisture)
	c := heat.Cured{PPM: float64(in.Ingoing) / float64(cure.MgPerKg), Brine: brine, Water: in.Water}
	out := coolingOut{Brine: shown(brine, 3)}
	for _, r := range heat.CoolingRules() {
		v, err := heat.Cooling(r, points, c)
		if err != nil {
			return coolingOut{}, err
		}
		o := ruleOutcome{r.ID, r.Source, v.Outcome, v.Why, nil}
		for _, b := range v.Bands {
			o.Bands = append(o.Bands, bandOut{b.From, b.To, shown(b.Took.Hours(), 3), b.Within.Hours(), b.Reached})
		}
		out.Rules = append(out.Rules, o)
	}
	return out, nil
}

// shown rounds a model's figure to so many places.
func shown(x float64, places int) float64 {
	v, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'f', places, 64), 64) // what was just written reads back
	return v
}
