package frontend

import (
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"
)

// A Form is what was typed and what is wrong with it. A page that shows a form has
// one in its struct; a handler that refuses renders the same page again with the
// request's values, so nothing typed is lost.
type Form struct {
	Values url.Values        // nil before the form was sent
	Errors map[string]string // field name to what is wrong; "" for the form as a whole
	Order  []string          // field names in the order of the page, for the summary; the rest follow by name
	Once   string            // token that makes a second press of the button harmless
	Prefix string            // sets two forms of one page apart; "" for the only one
}

// Fail notes what is wrong with a field, keeping the first complaint about it.
func (f *Form) Fail(name, text string) {
	if f.Errors == nil {
		f.Errors = map[string]string{}
	}
	if _, ok := f.Errors[name]; !ok {
		f.Errors[name] = text
		if !slices.Contains(f.Order, name) {
			f.Order = append(f.Order, name)
		}
	}
}

// OK says whether nothing is wrong.
func (f Form) OK() bool { return len(f.Errors) == 0 }

// A Problem is one line of the summary at the top of a form.
type Problem struct{ Href, Text string }

// Problems lists what is wrong in the order of the page. A problem of the form as
// a whole comes first and leads nowhere.
func (f Form) Problems() []Problem {
	var out []Problem
	if text := f.Errors[""]; text != "" {
		out = append(out, Problem{Text: text})
	}
	names := slices.DeleteFunc(slices.Clone(f.Order), func(n string) bool { _, ok := f.Errors[n]; return !ok })
	for _, n := range slices.Sorted(maps.Keys(f.Errors)) {
		if !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	for _, n := range names {
		if n != "" {
			out = append(out, Problem{"#" + f.id(n), f.Errors[n]})
		}
	}
	return out
}

func (f Form) id(name string) string {
	clean := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return '_'
	}, name)
	return f.Prefix + "f-" + clean
}

// A Choice is one answer of a select or a radio group.
type Choice struct {
	Value, Label string
	Hint         string // a second line under the label
	Off          bool   // shown but not to be chosen
	Cents        string // price for live totals, in cents; "" for none
}

// A Field is one question as the parts in templates/parts/fields.html show it.
type Field struct {
	Name, Label, ID          string
	Value                    string
	Error, Hint, Unit        string
	Type, Autocomplete, Mode string
	Min, Max, MaxLength      string
	Cents                    string // price of one, in cents, for live totals
	Rows                     string
	Required, Checked        bool
	Choices                  []Choice
	chosen                   []string
}

// Field is the question of the given name with its typed value and its error.
// Options refine it, each "key=value" or a bare word:
//
//	type=email  autocomplete=email  inputmode=decimal  hint=We write once.
//	unit=lb  min=1  max=12  maxlength=80  rows=4  cents=9500
//	value=2  (before anything was typed)   checked  (the same, for a tick box)
//	required
//
// Questions without required are marked "(optional)".
func (f Form) Field(name, label string, opts ...string) (Field, error) {
	fd := Field{Name: name, Label: label, ID: f.id(name), Error: f.Errors[name], Type: "text"}
	var first string
	var ticked bool
	for _, o := range opts {
		key, val, _ := strings.Cut(o, "=")
		switch key {
		case "type":
			fd.Type = val
		case "autocomplete":
			fd.Autocomplete = val
		case "inputmode":
			fd.Mode = val
		case "hint":
			fd.Hint = val
		case "unit":
			fd.Unit = val
		case "min":
			fd.Min = val
		case "max":
			fd.Max = val
		case "maxlength":
			fd.MaxLength = val
		case "rows":
			fd.Rows = val
		case "cents":
			fd.Cents = val
		case "value":
			first = val
		case "checked":
			ticked = true
		case "required":
			fd.Required = true
		default:
			return Field{}, fmt.Errorf("field %q: unknown option %q", name, o)
		}
	}
	typed, ok := f.Values[name]
	if !ok && len(f.Values) == 0 {
		fd.Value, fd.Checked, fd.chosen = first, ticked, []string{first}
		return fd, nil
	}
	fd.chosen = typed
	if len(typed) > 0 {
		fd.Value, fd.Checked = typed[0], true
	}
	return fd, nil
}

// Choose is Field with its answers, for a select or a radio group.
func (f Form) Choose(name, label string, choices []Choice, opts ...string) (Field, error) {
	fd, err := f.Field(name, label, opts...)
	fd.Choices = choices
	return fd, err
}

// Chosen says whether v is the answer given.
func (fd Field) Chosen(v string) bool { return slices.Contains(fd.chosen, v) }

// MayBeEmpty says whether one of the answers is no answer.
func (fd Field) MayBeEmpty() bool {
	return slices.ContainsFunc(fd.Choices, func(c Choice) bool { return c.Value == "" })
}

// ChoiceID is the id of the nth answer; the first is the field's own, so that the
// summary's link leads to it.
func (fd Field) ChoiceID(n int) string {
	if n == 0 {
		return fd.ID
	}
	return fd.ID + "-" + strconv.Itoa(n)
}

// DescribedBy names the notes that belong to the field, for aria-describedby.
func (fd Field) DescribedBy() string {
	var ids []string
	if fd.Hint != "" {
		ids = append(ids, fd.ID+"-hint")
	}
	if fd.Unit != "" {
		ids = append(ids, fd.ID+"-unit")
	}
	if fd.Error != "" {
		ids = append(ids, fd.ID+"-error")
	}
	return strings.Join(ids, " ")
}
