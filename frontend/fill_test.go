package frontend

import (
	"net/url"
	"reflect"
	"strings"
	"time"

	"flitchbook/planner/unit"
)

// fill sets everything a template can reach to something that shows: two elements
// in each slice, no nil pointer, true for every bool. full false gives the other
// half of the branches: empty slices, false, nil; but always a whole Layout.
func fill(zero any, full bool) any {
	v := reflect.New(reflect.TypeOf(zero)).Elem()
	if full {
		fillValue(v, 0)
	}
	setLayouts(v, full)
	return v.Interface()
}

func fillValue(v reflect.Value, depth int) {
	switch x := v.Addr().Interface().(type) {
	case *unit.Weight:
		*x = unit.WeightOfPounds(4.60)
		return
	case *unit.Day:
		*x = unit.DayOf(2026, time.October, 8)
		return
	case *unit.Instant:
		*x = unit.DayOf(2026, time.October, 8).At(15, 30, time.UTC)
		return
	case **time.Location:
		*x = time.UTC
		return
	case *time.Time:
		*x = time.Date(2026, 10, 8, 15, 30, 0, 0, time.UTC)
		return
	case *Form:
		*x = Form{Values: url.Values{"name": {"Nerys"}}, Errors: map[string]string{"name": "is wrong", "": "as a whole"}, Once: "once"}
		return
	}
	if depth > 8 || !v.CanSet() {
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString("Sample & <b>")
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		v.SetInt(3)
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		v.SetUint(3)
	case reflect.Float32, reflect.Float64:
		v.SetFloat(1.5)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fillValue(v.Elem(), depth+1)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range v.Len() {
			fillValue(v.Index(i), depth+1)
		}
	case reflect.Array:
		for i := range v.Len() {
			fillValue(v.Index(i), depth+1)
		}
	case reflect.Map:
		k, e := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		fillValue(k, depth+1)
		fillValue(e, depth+1)
		v.Set(reflect.MakeMap(v.Type()))
		v.SetMapIndex(k, e)
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				fillValue(v.Field(i), depth+1)
			}
		}
	}
}

func setLayouts(v reflect.Value, full bool) {
	l := Layout{Title: "Sample page", Lang: "en", ShopName: "Sample Butchery", Now: "Thu Oct 8, 2026, 15:30", Path: "/", Loc: time.UTC}
	if full {
		l.Actor, l.Flash, l.DemoBar = Actor{"Odile", Owner}, "Saved.", true
	}
	v.FieldByName("Layout").Set(reflect.ValueOf(l))
}

// inline finds what a strict Content-Security-Policy would forbid and addresses
// that leave the shop's own server.
func inline(html string) []string {
	var found []string
	low := strings.ToLower(html)
	for _, bad := range []string{" style=", "<style", " onclick=", " onchange=", " onsubmit=", " onload=", " oninput=", "javascript:", `src="http`, `src="//`, `<link rel="stylesheet" href="http`} {
		if strings.Contains(low, bad) {
			found = append(found, bad)
		}
	}
	for rest := low; ; {
		i := strings.Index(rest, "<script")
		if i < 0 {
			return found
		}
		rest = rest[i:]
		tag := rest[:strings.Index(rest, ">")+1]
		if !strings.Contains(tag, " src=") && !strings.Contains(tag, `type="application/ld+json"`) {
			found = append(found, tag)
		}
		rest = rest[len(tag):]
	}
}
