package reckon

import (
	"bytes"
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"
)

// decode reads one document into In and reports every wrong field at once: shape and
// ranges by the schema, quantities by their own parsers, in their own words.
func decode[In any](raw []byte) (In, error) {
	var in In
	d := json.NewDecoder(bytes.NewReader(raw))
	var tree any
	if err := d.Decode(&tree); err != nil {
		return in, notJSON(raw, err)
	}
	if _, err := d.Token(); err != io.EOF {
		return in, notJSON(raw, errors.New("there is something after the end of the document"))
	}
	if key := repeated(json.NewDecoder(bytes.NewReader(raw))); key != "" {
		return in, notJSON(raw, fmt.Errorf("the field %q is given twice", key))
	}
	if wrong := check(reflect.TypeFor[In](), tree); len(wrong) > 0 {
		return in, &Problem{Type: "about:blank", Title: "Unprocessable Content", Status: 422,
			Detail: wrongCount(len(wrong)), Errors: wrong}
	}
	if err := json.Unmarshal(raw, &in); err != nil {
		return in, notJSON(raw, err)
	}
	return in, nil
}

func notJSON(raw []byte, err error) *Problem {
	detail := "the document cannot be read as JSON: " + err.Error()
	if len(bytes.TrimSpace(raw)) == 0 {
		detail = "the document is empty"
	}
	return &Problem{Type: "about:blank", Title: "Bad Request", Status: 400, Detail: detail}
}

// repeated returns the first field that one object holds twice; a JSON reader would
// silently keep the last.
func repeated(d *json.Decoder) string {
	tok, err := d.Token()
	if err != nil {
		return ""
	}
	switch tok {
	case json.Delim('{'):
		seen := map[string]bool{}
		for d.More() {
			key, _ := d.Token()
			name, _ := key.(string)
			if seen[name] {
				return name
			}
			seen[name] = true
			if k := repeated(d); k != "" {
				return k
			}
		}
		d.Token()
	case json.Delim('['):
		for d.More() {
			if k := repeated(d); k != "" {
				return k
			}
		}
		d.Token()
	}
	return ""
}

// check lists what is wrong with tree as a value of type t, by place.
func check(t reflect.Type, tree any) []Wrong {
	found := map[string]string{}
	r := newRegistry()
	var res huma.ValidateResult
	huma.Validate(r, r.Schema(t, true, ""), huma.NewPathBuffer(nil, 0), huma.ModeWriteToServer, tree, &res)
	var wrong []Wrong
	for _, e := range res.Errors {
		var detail *huma.ErrorDetail
		if errors.As(e, &detail) {
			wrong = append(wrong, Wrong{detail.Location, detail.Message})
		}
	}
	texts(t, tree, "", found)
	wrong = slices.DeleteFunc(wrong, func(w Wrong) bool { _, better := found[w.Location]; return better })
	for at, msg := range found {
		wrong = append(wrong, Wrong{at, msg})
	}
	slices.SortFunc(wrong, func(a, b Wrong) int {
		if c := strings.Compare(a.Location, b.Location); c != 0 {
			return c
		}
		return strings.Compare(a.Message, b.Message)
	})
	return slices.Compact(wrong)
}

var textType = reflect.TypeFor[encoding.TextUnmarshaler]()

// texts tries every quantity's own parser and refuses field names that differ from
// the schema's in case only.
func texts(t reflect.Type, v any, at string, found map[string]string) {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if reflect.PointerTo(t).Implements(textType) {
		s, ok := v.(string)
		if !ok {
			return // the schema says it wants a string
		}
		if err := reflect.New(t).Interface().(encoding.TextUnmarshaler).UnmarshalText([]byte(s)); err != nil {
			found[at] = err.Error()
		}
		return
	}
	switch v := v.(type) {
	case map[string]any:
		if t.Kind() != reflect.Struct {
			return
		}
		fields := map[string]reflect.Type{}
		for f := range t.Fields() {
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			fields[name] = f.Type
		}
		for key, part := range v {
			if ft, ok := fields[key]; ok {
				texts(ft, part, join(at, key), found)
				continue
			}
			found[join(at, key)] = "there is no such field here"
		}
	case []any:
		if t.Kind() != reflect.Slice {
			return
		}
		for i, part := range v {
			texts(t.Elem(), part, fmt.Sprintf("%s[%d]", at, i), found)
		}
	}
}

func join(at, key string) string {
	if at == "" {
		return key
	}
	return at + "." + key
}
