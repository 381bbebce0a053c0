package reckon

import (
	"encoding/json"
	"reflect"

	"github.com/danielgtaylor/huma/v2"

	"flitchbook/planner/smoke"
	"flitchbook/planner/unit"
)

const smokeAbout = "which slabs hang in one smoke load, on which hooks, and why the others wait; or, with open days, all loads ahead"

// smokeKind takes two forms: one load to choose (smokeIn), or, known by its open days,
// the plan over all loads ahead (aheadIn).
var smokeKind = kind{
	name: "smoke", about: smokeAbout,
	run: func(raw []byte) (any, error) {
		var form struct {
			Open json.RawMessage `json:"open"`
		}
		if err := json.Unmarshal(raw, &form); err == nil && form.Open != nil {
			in, err := decode[aheadIn](raw)
			if err != nil {
				return nil, err
			}
			return runAhead(in)
		}
		in, err := decode[smokeIn](raw)
		if err != nil {
			return nil, err
		}
		return runSmoke(in)
	},
	example: func() any { return smokeExample() },
	schema:  func() any { return eitherSchema(smokeAbout, aheadExample()) },
}

// smokeForms is the schema of both forms.
type smokeForms struct {
	Schema string                  `json:"$schema"`
	Title  string                  `json:"title"`
	OneOf  []map[string]any        `json:"oneOf"`
	Defs   map[string]*huma.Schema `json:"$defs"`
}

func eitherSchema(about string, example aheadIn) smokeForms {
	r := newRegistry()
	load, plan := r.Schema(reflect.TypeFor[smokeIn](), true, ""), r.Schema(reflect.TypeFor[aheadIn](), true, "")
	return smokeForms{"https://json-schema.org/draft/2020-12/schema", about, []map[string]any{
		{"$ref": load.Ref}, {"$ref": plan.Ref, "examples": []any{example}},
	}, r.Map()}
}

type smokeIn struct {
	Unbag     unit.Day      `json:"unbag" doc:"when the load's slabs leave their bags"`
	Hooks     int           `json:"hooks" minimum:"0" maximum:"200" doc:"in the smokehouse, numbered from 1"`
	BottomRow int           `json:"bottom_row" minimum:"0" maximum:"200" doc:"of them, the last ones; the only place for allergen picks"`
	Own       int           `json:"own,omitempty" minimum:"0" maximum:"200" doc:"the first hooks, taken by the shop's own bacon"`
	Slabs     []smokeSlabIn `json:"slabs" maxItems:"500"`
}

type smokeSlabIn struct {
	Tag      string   `json:"tag" minLength:"1"`
	Booking  string   `json:"booking,omitempty" doc:"its party; a slab without one is a demo slab"`
	Sealed   unit.Day `json:"sealed"`
	Earliest unit.Day `json:"earliest" doc:"earliest unbag date"`
	Latest   unit.Day `json:"latest,omitempty" doc:"latest unbag date"`
	Allergen bool     `json:"allergen,omitempty" doc:"its pick carries an allergen"`
	Held     bool     `json:"held,omitempty"`
}

type smokeOut struct {
	Used    int          `json:"hooks_used"`
	Bottom  int          `json:"bottom_row_used" doc:"by slabs that need it"`
	Free    int          `json:"hooks_free"`
	Hangs   []groupOut   `json:"hangs"`
	Demos   []string     `json:"demos"`
	Waits   []groupOut   `json:"waits"`
	Hanging []hangingOut `json:"hooks"`
}

type groupOut struct {
	Booking string   `json:"booking,omitempty"`
	Sealed  unit.Day `json:"sealed"`
	Tags    []string `json:"tags"`
	Why     string   `json:"why"`
}

type hangingOut struct {
	Hook int    `json:"hook"`
	Tag  string `json:"tag"`
}

func smokeExample() smokeIn {
	oct24 := unit.DayOf(2026, 10, 24)
	in := smokeIn{Unbag: oct24 + 12, Hooks: 24, BottomRow: 6, Own: 16}
	for _, s := range []struct {
		tag, booking string
		allergen     bool
	}{{"B3-01", "K14", false}, {"B3-02", "K14", false}, {"B3-04", "K16", true}, {"B3-05", "K16", true}, {"B3-06", "K16", false},
		{"B3-07", "K16", false}, {"B3-08", "K17", false}, {"B3-09", "K17", false}, {"B3-10", "K17", false}, {"B3-11", "", false}} {
		in.Slabs = append(in.Slabs, smokeSlabIn{Tag: s.tag, Booking: s.booking, Sealed: oct24, Earliest: oct24 + 12, Latest: oct24 + 20, Allergen: s.allergen})
	}
	return in
}

func runSmoke(in smokeIn) (smokeOut, error) {
	rail, err := smoke.NewRail(in.Hooks, in.BottomRow, in.Own)
	if err != nil {
		return smokeOut{}, err
	}
	slabs := make([]smoke.Slab, len(in.Slabs))
	for i, s := range in.Slabs {
		slabs[i] = smoke.Slab{Tag: s.Tag, Party: s.Booking, Sealed: s.Sealed, Earliest: s.Earliest, Latest: s.Latest, Allergen: s.Allergen, Held: s.Held}
	}
	day := rail.Day(in.Unbag)
	load, err := smoke.Choose(day, slabs)
	if err != nil {
		return smokeOut{}, err
	}
	if err := load.Check(day, slabs); err != nil {
		return smokeOut{}, err
	}
	hung, err := smoke.Assign(load, slabs, rail)
	if err != nil {
		return smokeOut{}, err
	}
	out := smokeOut{Used: load.Hooks, Bottom: load.Bottom, Free: load.Free, Hangs: []groupOut{}, Demos: append([]string{}, load.Demos...),
		Waits: []groupOut{}, Hanging: []hangingOut{}}
	for _, g := range load.Groups {
		out.Hangs = append(out.Hangs, groupOut{g.Party, g.Sealed, g.Tags, g.Why})
	}
	for _, g := range load.Waiting {
		out.Waits = append(out.Waits, groupOut{g.Party, g.Sealed, g.Tags, g.Why})
	}
	for _, h := range hung {
		out.Hanging = append(out.Hanging, hangingOut{h.Hook, h.Tag})
	}
	return out, nil
}
