package order

import (
	"fmt"
	"strings"

	"flitchbook/planner/unit"
)

// reasons tells a plan line by line: what each delivery costs and brings, where each
// class's pieces come from, and the sum. Every figure can be added up with a pencil.
func reasons(p *Problem, plan Plan) []Reason {
	var out []Reason
	kinds, classes, offers := map[string]*Kind{}, map[string]*Class{}, map[string]*Offer{}
	for i := range p.Kinds {
		kinds[p.Kinds[i].Name] = &p.Kinds[i]
	}
	for i := range p.Classes {
		classes[p.Classes[i].ID] = &p.Classes[i]
	}
	var bought, hauls, freezing, sales unit.Money
	for i := range p.Offers {
		o := &p.Offers[i]
		offers[o.ID] = o
		var sum []string
		var net unit.Money
		for _, r := range plan.Orders {
			if r.Offer != o.ID {
				continue
			}
			for _, pr := range o.Prices {
				if pr.Form == r.Form {
					cost := pr.Unit * unit.Money(r.Units)
					text := fmt.Sprintf("%d %s × %s = %s", r.Units, r.Form, pr.Unit, cost)
					if pr.Why != "" {
						text += " (" + pr.Why + ")"
					}
					sum = append(sum, text)
					net, bought = net+cost, bought+cost
				}
			}
		}
		if len(sum) == 0 {
			continue
		}
		if o.Drop > 0 {
			sum = append(sum, fmt.Sprintf("haul %s", o.Drop))
			net, hauls = net+o.Drop, hauls+o.Drop
		}
		for _, k := range p.Kinds {
			n := 0
			for _, u := range plan.Uses {
				if u.Offer == o.ID && u.Kind == k.Name && u.Frozen {
					n += u.Pieces
				}
			}
			if n > 0 {
				cost := k.FreezeCost * unit.Money(n)
				sum = append(sum, fmt.Sprintf("freezing %d %s × %s = %s", n, k.Name, k.FreezeCost, cost))
				net, freezing = net+cost, freezing+cost
			}
		}
		for _, s := range plan.Sold {
			if s.Offer == o.ID {
				k := kinds[s.Kind]
				brings := k.Value * unit.Money(s.Pieces)
				sum = append(sum, fmt.Sprintf("less %d %s sold × %s = %s", s.Pieces, s.Kind, k.Value, brings))
				net, sales = net-brings, sales+brings
			}
		}
		text := fmt.Sprintf("delivered %s: %s; together %s", p.day(o.Day), strings.Join(sum, ", "), net)
		var went []string
		for _, b := range plan.Broken {
			if b.Offer == o.ID {
				went = append(went, fmt.Sprintf("%d %s broken", b.Pieces, b.Kind))
			}
		}
		for _, u := range plan.Uses {
			if u.Offer == o.ID {
				went = append(went, fmt.Sprintf("%d %s to class %s", u.Pieces, u.Kind, u.Class))
			}
		}
		for _, w := range plan.Waste {
			if w.Offer == o.ID {
				went = append(went, fmt.Sprintf("%d %s over, brings nothing", w.Pieces, w.Kind))
			}
		}
		if len(went) > 0 {
			text += ". " + strings.Join(went, ", ")
		}
		out = append(out, Reason{"offer " + o.ID, text + "."})
	}
	for i := range p.Classes {
		c := &p.Classes[i]
		var parts []string
		for _, k := range p.Kinds {
			n := c.need(k.Name)
			if n == 0 {
				continue
			}
			var from []string
			for _, u := range plan.Uses {
				if u.Class != c.ID || u.Kind != k.Name {
					continue
				}
				o := offers[u.Offer]
				text := fmt.Sprintf("%d of offer %s, %s after delivery", u.Pieces, u.Offer, plural(c.Day-o.Day, "day"))
				switch thaw := countOf(c.Thaw, k.Name); {
				case u.Frozen && thaw > 0:
					text += fmt.Sprintf(", frozen, out of the freezer %s", p.day(c.Day-thaw))
				case u.Frozen:
					text += ", frozen"
				}
				from = append(from, text)
			}
			parts = append(parts, fmt.Sprintf("%d %s: %s", n, k.Name, strings.Join(from, "; ")))
		}
		if len(parts) > 0 {
			out = append(out, Reason{"class " + c.ID, p.day(c.Day) + ". " + strings.Join(parts, ". ") + "."})
		}
	}
	return append(out, Reason{"all", fmt.Sprintf("bought %s + haul %s + freezing %s − sold %s = %s", bought, hauls, freezing, sales, plan.Cost)})
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Differs tells in what a plan buys otherwise than the best one, and what it costs more.
func Differs(best, other Plan) string {
	units := func(p Plan) map[[2]string]int {
		m := map[[2]string]int{}
		for _, r := range p.Orders {
			m[[2]string{r.Offer, r.Form}] = r.Units
		}
		return m
	}
	a, b := units(best), units(other)
	var more, less []string
	for _, r := range other.Orders {
		if d := r.Units - a[[2]string{r.Offer, r.Form}]; d > 0 {
			more = append(more, fmt.Sprintf("%d %s of offer %s", d, r.Form, r.Offer))
		}
	}
	for _, r := range best.Orders {
		if d := r.Units - b[[2]string{r.Offer, r.Form}]; d > 0 {
			less = append(less, fmt.Sprintf("%d %s of offer %s", d, r.Form, r.Offer))
		}
	}
	text := fmt.Sprintf("%s more", other.Cost-best.Cost)
	if other.Cost == best.Cost {
		text = "the same cost"
	}
	if len(more) > 0 {
		text += ": buys " + strings.Join(more, ", ")
	}
	if len(less) > 0 {
		sep := ": leaves out "
		if len(more) > 0 {
			sep = "; leaves out "
		}
		text += sep + strings.Join(less, ", ")
	}
	return text
}
