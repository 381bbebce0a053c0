package order

import (
	"fmt"
	"slices"
	"strings"

	"flitchbook/planner/unit"
)

// What a problem may hold: far beyond a shop, and small enough to reckon exactly.
const (
	mostLines = 2000
	mostCount = 10_000
	mostDay   = 40_000
	mostMoney = unit.Money(1_000_000_00)
)

// Faults lists what makes no sense, with fields named as in the document that reckon
// order reads.
func (p *Problem) Faults() (f unit.Faults) {
	kinds, forms, groups := map[string]bool{}, map[string]bool{}, map[string]bool{}
	name := func(seen map[string]bool, field, what, n string) {
		switch {
		case n == "":
			f.Add(field, "a "+what+" needs a name")
		case seen[n]:
			f.Add(field, fmt.Sprintf("%s %s is listed twice", what, n))
		}
		seen[n] = true
	}
	number := func(field string, n, least, most int) {
		if n < least || n > most {
			f.Add(field, fmt.Sprintf("%d is not between %d and %d", n, least, most))
		}
	}
	money := func(field string, m unit.Money) {
		if m < 0 || m > mostMoney {
			f.Add(field, fmt.Sprintf("%s is not between $0.00 and %s", m, mostMoney))
		}
	}
	counts := func(field, what string, list []Count, known map[string]bool, most int) {
		seen := map[string]bool{}
		for _, c := range list {
			if !known[c.Name] {
				f.Add(field+"."+c.Name, "there is no such "+what)
			}
			if seen[c.Name] {
				f.Add(field+"."+c.Name, "given twice")
			}
			seen[c.Name] = true
			number(field+"."+c.Name, c.N, 0, most)
		}
	}
	number("classes", len(p.Classes), 0, mostLines)
	number("offers", len(p.Offers), 0, mostLines)
	for i, k := range p.Kinds {
		name(kinds, fmt.Sprintf("kinds[%d]", i), "kind", k.Name)
	}
	for i, k := range p.Kinds {
		at := fmt.Sprintf("kinds[%d]", i)
		number(at+".space", k.Space, 0, mostCount)
		number(at+".fresh_min", k.FreshMin, 0, mostDay)
		number(at+".fresh_max", k.FreshMax, k.FreshMin, mostDay)
		number(at+".frozen_max", k.FrozenMax, 0, mostDay)
		number(at+".target", k.Target, 0, mostDay)
		money(at+".freeze_cost", k.FreezeCost)
		money(at+".value", k.Value)
		counts(at+".breaks_into", "kind", k.BreaksInto, kinds, mostCount)
		for w, n := range k.Outlet {
			number(fmt.Sprintf("%s.retail_cap[%d]", at, w), n, 0, mostCount)
		}
	}
	if k := p.circle(); k != "" {
		f.Add("kinds", fmt.Sprintf("%s breaks into something that breaks into %s", k, k))
	}
	for i, r := range p.Forms {
		at := fmt.Sprintf("forms[%d]", i)
		name(forms, at, "form", r.Name)
		groups[r.Group] = true
		number(at+".size", r.Size, 1, mostCount)
		counts(at+".gives", "kind", r.Gives, kinds, 1000)
	}
	slots, places := map[string]bool{}, map[string]bool{}
	for i, s := range p.Slots {
		at := fmt.Sprintf("slots[%d]", i)
		name(places, at, "slot", strings.TrimSuffix(s.Name+" for "+s.Group, " for "))
		slots[s.Name] = true
		if !groups[s.Group] {
			f.Add(at+".group", fmt.Sprintf("no form counts against %q", s.Group))
		}
		number(at+".most", s.Most, 0, mostCount)
	}
	offers := map[string]bool{}
	for i, o := range p.Offers {
		at := fmt.Sprintf("offers[%d]", i)
		name(offers, at+".id", "offer", o.ID)
		number(at+".day", o.Day, -mostDay, mostDay)
		money(at+".drop", o.Drop)
		counts(at+".caps", "group of forms", o.Caps, groups, mostCount)
		if o.Slot != "" && !slots[o.Slot] {
			f.Add(at+".slot", fmt.Sprintf("there is no slot %q", o.Slot))
		}
		seen := map[string]bool{}
		for _, pr := range o.Prices {
			if !forms[pr.Form] || seen[pr.Form] {
				f.Add(at+".price."+pr.Form, "there is no such form, or it is given twice")
			}
			seen[pr.Form] = true
			money(at+".price."+pr.Form, pr.Unit)
		}
	}
	classes := map[string]bool{}
	for i, c := range p.Classes {
		at := fmt.Sprintf("classes[%d]", i)
		name(classes, at+".id", "class", c.ID)
		number(at+".day", c.Day, -mostDay, mostDay)
		counts(at+".demand", "kind", c.Demand, kinds, mostCount)
		counts(at+".thaw", "kind", c.Thaw, kinds, mostDay)
		for _, o := range c.From {
			if !offers[o] {
				f.Add(at+".from", fmt.Sprintf("there is no offer %q", o))
			}
		}
		for _, k := range c.FrozenOK {
			if !kinds[k] {
				f.Add(at+".frozen_ok", fmt.Sprintf("there is no kind %q", k))
			}
		}
	}
	for at, r := range map[string]Room{"cooler_cap": p.Cooler, "freezer_cap": p.Freezer} {
		number(at, r.Cap, 0, 1_000_000)
	}
	slices.SortStableFunc(f, func(a, b unit.Fault) int {
		if a.Field < b.Field {
			return -1
		}
		if a.Field > b.Field {
			return 1
		}
		return 0
	})
	return f
}

// circle names a kind that is part of itself, or "".
func (p *Problem) circle() string {
	into := map[string][]Count{}
	for _, k := range p.Kinds {
		into[k.Name] = k.BreaksInto
	}
	state := map[string]int{}
	var visit func(k string) string
	visit = func(k string) string {
		switch state[k] {
		case 1:
			return k
		case 2:
			return ""
		}
		state[k] = 1
		for _, b := range into[k] {
			if found := visit(b.Name); found != "" {
				return found
			}
		}
		state[k] = 2
		return ""
	}
	for _, k := range p.Kinds {
		if found := visit(k.Name); found != "" {
			return found
		}
	}
	return ""
}
