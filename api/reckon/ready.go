package reckon

import (
	"time"

	"flitchbook/planner/cure"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

var readyKind = define("ready", "when a slab is proposed to be ready, by a rule of thumb and a salt model", readyExample, runReady)

type readyIn struct {
	Sealed   unit.Day   `json:"sealed"`
	Inches   float64    `json:"thickness_in" minimum:"0" maximum:"19" doc:"at the thickest point"`
	SkinOn   bool       `json:"skin_on,omitempty" doc:"skin seals one face"`
	Frozen   float64    `json:"frozen_hours,omitempty" minimum:"0" maximum:"20000" doc:"that the room's log does not show"`
	Readings []roomTemp `json:"readings,omitempty" maxItems:"100000" doc:"of its room since it was sealed"`
}

type roomTemp struct {
	At   unit.Instant `json:"at"`
	Temp unit.Temp    `json:"temp"`
}

type readyOut struct {
	Ready   unit.Day `json:"ready"`
	Days    int      `json:"days"`
	Thumb   float64  `json:"rule_days" doc:"7 days an inch and 2"`
	Salt    float64  `json:"salt_days"`
	Stalled float64  `json:"stalled_hours" doc:"below 34 °F by the log, and frozen"`
	Model   string   `json:"model"`
	Fo      float64  `json:"fo"`
	Finite  float64  `json:"finite_dose_centre" doc:"on the ready day, of what it evens out to"`
	Centre  float64  `json:"constant_face_centre"`
	Mean    float64  `json:"constant_face_mean"`
	Reasons []string `json:"reasons"`
}

func readyExample() readyIn {
	return readyIn{Sealed: unit.DayOf(2026, 10, 10), Inches: 1.5, Frozen: 12}
}

func runReady(in readyIn) (readyOut, error) {
	var readings []heat.Reading
	var first, last unit.Instant
	for i, r := range in.Readings {
		if i == 0 || r.At < first {
			first = r.At
		}
		last = max(last, r.At)
		readings = append(readings, heat.Reading{At: r.At, Temp: r.Temp})
	}
	stalled := heat.ColdTime(heat.HouseCold(), readings, first, last) + time.Duration(in.Frozen*float64(time.Hour))
	r, err := cure.Ready(in.Sealed, in.Inches*cure.MMPerInch, in.SkinOn, stalled)
	if err != nil {
		return readyOut{}, err
	}
	return readyOut{r.Ready, r.Total, shown(r.Thumb, 2), shown(r.Salt, 2), shown(stalled.Hours(), 2), r.Picture.Label, shown(r.Picture.Fo, 4),
		shown(r.Picture.FiniteCentre, 4), shown(r.Picture.ConstantCentre, 4), shown(r.Picture.ConstantMean, 4), r.Reasons}, nil
}
