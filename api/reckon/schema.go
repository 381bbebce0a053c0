package reckon

import (
	"reflect"

	"github.com/danielgtaylor/huma/v2"

	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

// text describes a quantity that travels as a string.
type text struct{ pattern, about, example string }

func (t text) schema() *huma.Schema {
	return &huma.Schema{Type: huma.TypeString, Pattern: t.pattern, Description: t.about, Examples: []any{t.example}}
}

// The stand-ins give huma a schema for types of the pure packages, which know
// nothing of JSON Schema. Patterns say the shape; the types' parsers have the last word.
type (
	weightText  struct{}
	tempText    struct{}
	moneyText   struct{}
	ratioText   struct{}
	dayText     struct{}
	instantText struct{}
	skinText    struct{}
	modeText    struct{}
	unitText    struct{}
	methodText  struct{}
)

func (weightText) Schema(huma.Registry) *huma.Schema {
	return text{`^\s*-?[0-9.]+\s*([kK][gG]|[mM][gG]|[lL][bB]|[oO][zZ]|[gG])\s*$`, "a weight with its unit: lb, oz, kg, g or mg", "4.60 lb"}.schema()
}

func (tempText) Schema(huma.Registry) *huma.Schema {
	return text{`^\s*-?[0-9.]+\s*°?\s*[fFcC]\s*$`, "a temperature with its scale, F or C", "38.5 F"}.schema()
}

func (moneyText) Schema(huma.Registry) *huma.Schema {
	return text{`^\s*-?\$?[0-9.]+\s*$`, "an amount of money, to the cent", "$95.00"}.schema()
}

func (ratioText) Schema(huma.Registry) *huma.Schema {
	return text{`^\s*-?[0-9.]+\s*(%|ppm)?\s*$`, "a share: in per cent, in parts per million, or bare", "2.2 %"}.schema()
}

func (dayText) Schema(huma.Registry) *huma.Schema {
	return text{`^([0-9]{4}-[0-9]{2}-[0-9]{2})?$`, "a date, year-month-day", "2026-10-08"}.schema()
}

func (instantText) Schema(huma.Registry) *huma.Schema {
	return text{`^([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:.]+(Z|[+-][0-9]{2}:[0-9]{2}))?$`, "a moment with its offset from UTC (RFC 3339)", "2026-10-08T15:30:00-05:00"}.schema()
}

func (skinText) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeString, Enum: []any{"skinless", "skin-on"}, Description: "whether the skin stays on the belly"}
}

func (modeText) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeString, Enum: []any{"equal", "fixed"}, Description: "equal pieces inside the band, or pieces of one weight"}
}

func (unitText) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeString, Enum: []any{"belly", "half", "hindquarter", "whole"}, Description: "what the class is fed with: belly for bacon, else what a clinic cuts up"}
}

func (methodText) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeString, Enum: []any{"additive", "mean ratio", "ratio of sums"}, Description: "how seats expected are forecast from earlier classes"}
}

// UnitSchemas tells a registry how the exact quantities look in JSON.
func UnitSchemas(r huma.Registry) {
	r.RegisterTypeAlias(reflect.TypeFor[unit.Weight](), reflect.TypeFor[weightText]())
	r.RegisterTypeAlias(reflect.TypeFor[unit.Temp](), reflect.TypeFor[tempText]())
	r.RegisterTypeAlias(reflect.TypeFor[unit.Money](), reflect.TypeFor[moneyText]())
	r.RegisterTypeAlias(reflect.TypeFor[unit.Ratio](), reflect.TypeFor[ratioText]())
	r.RegisterTypeAlias(reflect.TypeFor[unit.Day](), reflect.TypeFor[dayText]())
	r.RegisterTypeAlias(reflect.TypeFor[unit.Instant](), reflect.TypeFor[instantText]())
	r.RegisterTypeAlias(reflect.TypeFor[carcass.Skin](), reflect.TypeFor[skinText]())
	r.RegisterTypeAlias(reflect.TypeFor[carcass.Mode](), reflect.TypeFor[modeText]())
	r.RegisterTypeAlias(reflect.TypeFor[demand.Unit](), reflect.TypeFor[unitText]())
	r.RegisterTypeAlias(reflect.TypeFor[demand.Method](), reflect.TypeFor[methodText]())
}

func newRegistry() huma.Registry {
	r := huma.NewMapRegistry("#/$defs/", huma.DefaultSchemaNamer)
	UnitSchemas(r)
	return r
}

type schemaDoc struct {
	Schema string                  `json:"$schema"`
	Title  string                  `json:"title"`
	Ref    string                  `json:"$ref"`
	Defs   map[string]*huma.Schema `json:"$defs"`
}

func schemaOf[In any](about string) schemaDoc {
	r := newRegistry()
	ref := r.Schema(reflect.TypeFor[In](), true, "")
	return schemaDoc{"https://json-schema.org/draft/2020-12/schema", about, ref.Ref, r.Map()}
}
