package reckon_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"flitchbook/api/reckon"
)

// Every kind's own example must run, twice to the same bytes, and carry a schema in
// which quantities are strings.
func TestEveryKind(t *testing.T) {
	if len(reckon.Kinds()) == 0 {
		t.Fatal("no kinds")
	}
	for _, kind := range reckon.Kinds() {
		t.Run(kind, func(t *testing.T) {
			in, err := reckon.Example(kind)
			if err != nil {
				t.Fatal(err)
			}
			first, err := reckon.Run(kind, in)
			if err != nil {
				t.Fatalf("Run(example) = %v\n%s", err, in)
			}
			if again, _ := reckon.Run(kind, in); !bytes.Equal(first, again) {
				t.Errorf("two runs differ:\n%s\n%s", first, again)
			}
			schema, err := reckon.Schema(kind)
			if err != nil {
				t.Fatal(err)
			}
			var doc struct {
				Schema string         `json:"$schema"`
				Defs   map[string]any `json:"$defs"`
			}
			if err := json.Unmarshal(schema, &doc); err != nil || len(doc.Defs) == 0 || doc.Schema == "" {
				t.Errorf("schema %v:\n%s", err, schema)
			}
			if reckon.About(kind) == "" {
				t.Error("no description")
			}

			// An unknown field in the example is refused by name.
			var tree map[string]any
			if err := json.Unmarshal(in, &tree); err != nil {
				t.Fatal(err)
			}
			tree["colour"] = "red"
			odd, _ := json.Marshal(tree)
			var p *reckon.Problem
			if _, err := reckon.Run(kind, odd); !errors.As(err, &p) || !strings.Contains(string(p.JSON()), `"location": "colour"`) {
				t.Errorf("unknown field: %v", err)
			}
		})
	}
}

func TestAllWrongFieldsAtOnce(t *testing.T) {
	_, err := reckon.Run("yield", []byte(`{
		"profile": {"hcw": "206", "shrink": "3,0 %", "belly": 16, "squaring": "5.1 %", "skin": "13.3 %", "Breed": "x"},
		"animals": -1, "sides": ["100.6 lb", "ninety"]}`))
	var p *reckon.Problem
	if !errors.As(err, &p) {
		t.Fatalf("err = %v", err)
	}
	want := map[string]string{
		"animals":        "expected number >= 0",
		"profile.Breed":  "there is no such field here",
		"profile.belly":  "expected string",
		"profile.hcw":    `"206" is not a weight with its unit, such as "4.60 lb" or "2270 g"`,
		"profile.shrink": `"3,0 %" is not a share, such as "2.2 %" or "156 ppm"; write a point, not a comma`,
		"sides[1]":       `"ninety" is not a weight with its unit, such as "4.60 lb" or "2270 g"`,
	}
	if len(p.Errors) != len(want) || p.Status != 422 {
		t.Errorf("problem = %s", p.JSON())
	}
	for _, w := range p.Errors {
		if want[w.Location] != w.Message {
			t.Errorf("%s: got %q, want %q", w.Location, w.Message, want[w.Location])
		}
	}
}

func TestRefusals(t *testing.T) {
	for _, row := range []struct{ name, kind, in, want string }{
		{"unknown kind", "alchemy", `{}`, `there is no reckoning called "alchemy"`},
		{"empty", "yield", "", "the document is empty"},
		{"broken", "yield", `{"profile":`, "cannot be read as JSON"},
		{"two documents", "yield", `{} {}`, "something after the end"},
		{"field twice", "yield", `{"live": "1 lb", "live": "2 lb"}`, `"live" is given twice`},
		{"not an object", "yield", `[]`, "one field is wrong"},
		{"rule broken", "yield", `{"profile": {"hcw": "206 lb", "shrink": "100 %", "belly": "16 %", "squaring": "60 %", "skin": "40 %"}}`, "2 fields are wrong"},
	} {
		t.Run(row.name, func(t *testing.T) {
			out, err := reckon.Run(row.kind, []byte(row.in))
			var p *reckon.Problem
			if !errors.As(err, &p) || out != nil || !strings.Contains(p.Detail, row.want) {
				t.Errorf("Run = %q, %v; want %q", out, err, row.want)
			}
		})
	}
}
