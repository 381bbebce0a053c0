package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

// SheetOut is the bench sheet of the day.
type SheetOut struct {
	At        unit.Instant          `json:"at" doc:"The shop's clock; a device sets the times of its steps by it."`
	Zone      string                `json:"zone" example:"America/Chicago"`
	By        string                `json:"by" doc:"Who fetched it; another person's steps are not sent in this one's name."`
	SeatApart unit.Weight           `json:"seat_apart" doc:"So far may the weight at the seat lie from the weight at cutting."`
	Scales    []SheetScale          `json:"scales"`
	Jars      map[string][]SheetJar `json:"jars" doc:"By class: what stands on its table."`
	Slabs     []SheetSlab           `json:"slabs"`
}

// SheetScale is a scale of the shop.
type SheetScale struct {
	Name    string `json:"name"`
	Fine    bool   `json:"fine" doc:"Reads 0.1 g or finer."`
	Checked bool   `json:"checked" doc:"With the 5 g weight, today, and passed."`
}

// SheetJar is a spice on the table.
type SheetJar struct {
	Code      string `json:"code"`
	Name      string `json:"name"`
	Allergens string `json:"allergens,omitempty"`
}

// SheetSlab is a slab of the bench sheet. It does not say whose it is.
type SheetSlab struct {
	Tag       string         `json:"tag" example:"B4-03"`
	Class     string         `json:"class"`
	State     shop.SlabState `json:"state"`
	Demo      bool           `json:"demo,omitempty"`
	Spice     string         `json:"spice,omitempty"`
	Jar       string         `json:"jar,omitempty" doc:"The spice in words."`
	Allergens string         `json:"allergens,omitempty"`
	Ask       bool           `json:"ask,omitempty" doc:"The guest has yet to choose the spice."`
	SkinOn    bool           `json:"skin_on"`
	Green     unit.Weight    `json:"green,omitempty"`
	Planned   unit.Weight    `json:"planned,omitempty"`
	Place     string         `json:"place,omitempty"`
	Hook      string         `json:"hook,omitempty" doc:"Planned for today."`
	UnbagFrom unit.Day       `json:"unbag_from,omitempty"`
	Latest    unit.Day       `json:"unbag_by,omitempty"`
	HeldSince unit.Instant   `json:"held_since,omitempty"`
	HeldFor   string         `json:"held_for,omitempty"`
	Ticket    *TicketOut     `json:"ticket,omitempty" doc:"Of a slab that is cut or kitted."`
	Nitrite   unit.Ratio     `json:"nitrite,omitempty" doc:"Share of sodium nitrite in the ticket's curing salt."`
	Least     unit.Weight    `json:"least,omitempty" doc:"The least the scale may show for the curing salt."`
	Most      unit.Weight    `json:"most,omitempty"`
	DryLeast  unit.Weight    `json:"finished_least,omitempty"`
	DryMost   unit.Weight    `json:"finished_most,omitempty"`
	Weighed   bool           `json:"weighed"`
}

type sheetOutput struct{ Body SheetOut }

func (a *Server) benchOperations() {
	operation(a, http.MethodGet, "/bench/sheet", "get-bench-sheet", "What a device at the bench keeps for when there is no signal", []shop.Role{shop.Staff},
		func(ctx context.Context, by shop.Actor, _ *struct{}) (*sheetOutput, error) {
			s, err := a.Store.BenchSheet(ctx)
			if err != nil {
				return nil, err
			}
			return &sheetOutput{sheetFrom(s, a.Store.Loc.String(), by.Name)}, nil
		})
}

func sheetFrom(s *store.BenchSheet, zone, by string) SheetOut {
	out := SheetOut{At: s.At, Zone: zone, By: by, SeatApart: s.SeatApart, Scales: []SheetScale{}, Jars: map[string][]SheetJar{}, Slabs: []SheetSlab{}}
	for _, sc := range s.Scales {
		out.Scales = append(out.Scales, SheetScale{sc.Name, sc.Fine, sc.Checked})
	}
	for _, v := range s.Slabs {
		if _, ok := out.Jars[v.ClassCode]; !ok && len(v.Jars) > 0 {
			for _, j := range v.Jars {
				out.Jars[v.ClassCode] = append(out.Jars[v.ClassCode], SheetJar{j.Code, j.Name, j.Allergens})
			}
		}
		x := SheetSlab{Tag: v.Tag, Class: v.ClassCode, State: v.State, Demo: v.Demo, Spice: v.JarCode, Jar: v.Jar, Allergens: v.Allergens, Ask: v.Ask, SkinOn: v.SkinOn,
			Green: v.Green, Planned: v.Planned, Place: v.Place, Hook: v.Hook, UnbagFrom: v.UnbagFrom, Latest: v.Latest, HeldSince: v.HeldSince, HeldFor: v.HeldFor,
			Nitrite: v.Nitrite, Least: v.Least, Most: v.Most, DryLeast: v.DryLeast, DryMost: v.DryMost, Weighed: v.Weighed}
		if k := v.Ticket; k != nil && v.Most > 0 {
			x.Ticket = &TicketOut{k.Basis, k.Salt, k.Sugar, k.Cure, k.Spice, k.PPM}
		}
		out.Slabs = append(out.Slabs, x)
	}
	return out
}
