package api

import (
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

type traceOutput struct{ Body TraceOut }

// TraceOut is everything known of one slab.
type TraceOut struct {
	Slab     BenchSlab      `json:"slab"`
	Farm     string         `json:"farm"`
	Plant    string         `json:"plant"`
	Legend   string         `json:"inspection_mark"`
	Lot      string         `json:"meat_lot"`
	KilledOn unit.Day       `json:"killed_on,omitempty"`
	Animal   string         `json:"animal"`
	Side     string         `json:"side"`
	Piece    int            `json:"piece"`
	Or       []TraceMeat    `json:"or,omitempty" doc:"Its tag was lost and it was shared out by draw: its meat may as well be of these."`
	Weighed  []TraceWeighed `json:"weigh_outs"`
	Places   []TracePlace   `json:"places"`
	Steps    []TraceStep    `json:"steps"`
}

// TraceMeat is where a slab's meat may come from.
type TraceMeat struct {
	Farm   string `json:"farm"`
	Animal string `json:"animal"`
	Side   string `json:"side"`
	Piece  int    `json:"piece"`
}

// TraceWeighed is a weigh-out; failed ones stay on record.
type TraceWeighed struct {
	At     unit.Instant `json:"at"`
	By     string       `json:"by"`
	Cure   unit.Weight  `json:"curing_salt"`
	PPM    cure.PPM     `json:"nitrite_in"`
	Passed bool         `json:"passed"`
	Reason string       `json:"reason"`
	Scale  string       `json:"scale"`
	Lots   []string     `json:"lots"`
}

// TracePlace is a stay in a place.
type TracePlace struct {
	Room  string       `json:"room"`
	Place string       `json:"place"`
	Since unit.Instant `json:"since"`
	Until unit.Instant `json:"until,omitempty"`
}

// TraceStep is one step as it was done and received.
type TraceStep struct {
	From     shop.SlabState `json:"from"`
	To       shop.SlabState `json:"to"`
	Counted  bool           `json:"counted" doc:"False: done during a hold."`
	Done     unit.Instant   `json:"done_at"`
	Received unit.Instant   `json:"received_at"`
	By       string         `json:"by"`
	Reading  string         `json:"reading,omitempty"`
	Reason   string         `json:"reason,omitempty"`
}

func (a *Server) traceOut(tr *store.Trace) TraceOut {
	b := tr.Back
	o := TraceOut{Slab: *a.slabFrom(&tr.Slab), Farm: b.Farm, Plant: b.Plant, Legend: b.Legend, Lot: b.Lot, KilledOn: b.KilledOn, Animal: b.AnimalTag, Side: b.Side, Piece: b.Piece,
		Weighed: []TraceWeighed{}, Places: []TracePlace{}, Steps: []TraceStep{}}
	for _, m := range tr.Or {
		o.Or = append(o.Or, TraceMeat{m.Farm, m.AnimalTag, m.Side, m.Piece})
	}
	for _, w := range tr.Weighed {
		x := TraceWeighed{At: w.At, By: w.Actor, Cure: w.Cure, PPM: w.PPM, Passed: w.Passed, Reason: w.Reason, Scale: w.Scale, Lots: []string{}}
		for _, l := range w.Lots {
			x.Lots = append(x.Lots, l.Ingredient+" "+l.Code)
		}
		o.Weighed = append(o.Weighed, x)
	}
	for _, p := range tr.Places {
		o.Places = append(o.Places, TracePlace{p.Room, p.Place, p.Since, p.UntilAt})
	}
	for _, st := range tr.Steps {
		o.Steps = append(o.Steps, TraceStep{st.From, st.To, st.Counted, st.DoneAt, st.ReceivedAt, st.Actor, st.Reading, st.Reason})
	}
	return o
}
