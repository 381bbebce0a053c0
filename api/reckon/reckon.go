// Package reckon is the shop's pocket calculator: one JSON document in, one JSON
// document out, the same computation as the pages, without a database.
//
// Each kind of reckoning is a pair of Go types and a function, given to define in a
// file named after the kind, and listed in kinds.go. The JSON Schema, the worked
// example and the refusal of unknown or wrong fields all come from the input type,
// so they cannot drift apart.
//
// Quantities are strings with their unit ("4.60 lb", "2270 g", "145 F", "$95.00",
// "2.2 %", "2026-10-08"). What is shown is rounded the way the shop's scales and
// tills show it: weights to a hundredth of a pound unless the field says otherwise.
// The same input always gives the same bytes.
package reckon

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"flitchbook/planner/unit"
)

// kind is one reckoning, its types hidden behind bytes.
type kind struct {
	name    string
	about   string // one line for the help text
	run     func(in []byte) (any, error)
	example func() any
	schema  func() any
}

// define makes a kind from its input and output types. The run function gets an
// input that already satisfies the schema; it returns unit.Faults for what only the
// rules can tell, with fields named as in the JSON.
func define[In, Out any](name, about string, example func() In, run func(In) (Out, error)) kind {
	return kind{
		name: name, about: about,
		run: func(raw []byte) (any, error) {
			in, err := decode[In](raw)
			if err != nil {
				return nil, err
			}
			return run(in)
		},
		example: func() any { return example() },
		schema:  func() any { return schemaOf[In](about) },
	}
}

func find(name string) (kind, error) {
	var names []string
	for _, k := range kinds {
		if k.name == name {
			return k, nil
		}
		names = append(names, k.name)
	}
	return kind{}, &Problem{Type: "about:blank", Title: "Not Found", Status: 404,
		Detail: fmt.Sprintf("there is no reckoning called %q; there are: %s", name, strings.Join(names, ", "))}
}

// Kinds lists the names of all reckonings in reading order.
func Kinds() []string {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = k.name
	}
	return names
}

// About is the one-line description of a kind, or "" for an unknown one.
func About(name string) string {
	k, _ := find(name)
	return k.about
}

// Run reckons one document. Every error is a *Problem.
func Run(name string, in []byte) ([]byte, error) {
	k, err := find(name)
	if err != nil {
		return nil, err
	}
	out, err := k.run(in)
	if err != nil {
		return nil, problem(err)
	}
	return encode(out)
}

// Example is a worked input for a kind.
func Example(name string) ([]byte, error) {
	k, err := find(name)
	if err != nil {
		return nil, err
	}
	return encode(k.example())
}

// Schema is the JSON Schema (draft 2020-12) of a kind's input.
func Schema(name string) ([]byte, error) {
	k, err := find(name)
	if err != nil {
		return nil, err
	}
	return encode(k.schema())
}

func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		return nil, problem(err)
	}
	return b.Bytes(), nil
}

// Problem is an error as RFC 9457 problem details. Errors lists every wrong field.
type Problem struct {
	Type   string  `json:"type"`
	Title  string  `json:"title"`
	Status int     `json:"status"`
	Detail string  `json:"detail"`
	Errors []Wrong `json:"errors,omitempty"`
}

// Wrong is one wrong field: where it is, such as "sides[1].cold", and what is wrong.
type Wrong struct {
	Location string `json:"location"`
	Message  string `json:"message"`
}

func (p *Problem) Error() string {
	var b strings.Builder
	b.WriteString(p.Detail)
	for _, w := range p.Errors {
		fmt.Fprintf(&b, "\n  %s: %s", w.Location, w.Message)
	}
	return b.String()
}

// JSON is the problem as an indented document.
func (p *Problem) JSON() []byte {
	b, err := encode(p)
	if err != nil {
		panic(err) // strings and numbers always encode
	}
	return b
}

func problem(err error) *Problem {
	var p *Problem
	if errors.As(err, &p) {
		return p
	}
	p = &Problem{Type: "about:blank", Title: "Unprocessable Content", Status: 422, Detail: err.Error()}
	var faults unit.Faults
	if errors.As(err, &faults) {
		p.Detail = wrongCount(len(faults))
		for _, f := range faults {
			p.Errors = append(p.Errors, Wrong{f.Field, f.Text})
		}
	}
	return p
}

func wrongCount(n int) string {
	if n == 1 {
		return "one field is wrong"
	}
	return fmt.Sprintf("%d fields are wrong", n)
}
