package reckon

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"

	"flitchbook/planner/integer"
	"flitchbook/planner/order"
	"flitchbook/planner/unit"
)

var orderKind = define("order", "what to buy from which farm on which day, and where every piece goes: cheapest, proven, with reasons",
	orderExample, runOrder)

type buyingIn struct {
	Name string `json:"name,omitempty"`
	Seed int64  `json:"seed,omitempty" doc:"of invented problems; not used"`
	Days int    `json:"days,omitempty" doc:"not used"`
	Week int    `json:"weeks,omitempty" doc:"not used"`

	Start unit.Day `json:"start,omitempty" doc:"the date called day 0, first of week 0; needed when days are dates"`
	Today *dayOr   `json:"today,omitempty" doc:"offers to be ordered by an earlier day are left out"`

	Kinds   []pieceIn      `json:"kinds,omitempty" maxItems:"100" doc:"what a piece can be; when not given: side, broken into 1 belly, 1 shoulder, 1 loin, 1 leg"`
	Forms   []formIn       `json:"forms,omitempty" maxItems:"100" doc:"how meat is sold; when not given: whole (2 sides, 2 halves), half (1 side, 1 half), bellybox (6 bellies, 1 box)"`
	Classes []orderClassIn `json:"classes" maxItems:"2000"`
	Offers  []offerIn      `json:"offers" maxItems:"2000"`
	Slots   []sharedSlotIn `json:"slots,omitempty" maxItems:"2000" doc:"places on kill days that several offers share"`

	FreshMin  int `json:"fresh_min" minimum:"0" maximum:"40000" doc:"days from delivery to class, fresh, the fewest"`
	FreshMax  int `json:"fresh_max" minimum:"0" maximum:"40000" doc:"and the most"`
	FrozenMax int `json:"frozen_max,omitempty" minimum:"0" maximum:"40000" doc:"the most when frozen; frozen is whatever is older than fresh_max"`

	FreezeCost map[string]centsOr     `json:"freeze_cost,omitempty" doc:"of one piece, by kind"`
	Shelf      map[string]int         `json:"shelf,omitempty" doc:"units of cooler or freezer one piece fills, by kind; 1 when not given"`
	Cooler     *int                   `json:"cooler_cap,omitempty" minimum:"0" maximum:"1000000" doc:"units; without it there is room for everything"`
	Freezer    *int                   `json:"freezer_cap,omitempty" minimum:"0" maximum:"1000000"`
	CoolerOn   []roomOnIn             `json:"cooler_on,omitempty" maxItems:"2000" doc:"days on which the cooler has another size"`
	FreezerOn  []roomOnIn             `json:"freezer_on,omitempty" maxItems:"2000"`
	Value      map[string]centsOr     `json:"value,omitempty" doc:"what one piece left over sells for, by kind"`
	RetailCap  map[string][]int       `json:"retail_cap,omitempty" doc:"how many can be sold, by kind and week from week 0"`
	Thaw       map[string]int         `json:"thaw,omitempty" doc:"days a frozen piece leaves the freezer before its class and lies in the cooler, by kind"`
	Hanging    map[string]unit.Weight `json:"hanging,omitempty" doc:"expected hanging weight of one unit, by form"`
	Lead       int                    `json:"lead,omitempty" minimum:"0" maximum:"4000" doc:"days before the kill (else the delivery) to order"`

	Plans int        `json:"plans,omitempty" minimum:"1" maximum:"10" doc:"the best and the next best different ones; 3 when not given"`
	Work  int64      `json:"work,omitempty" minimum:"1" maximum:"100000000" doc:"steps to spend at most; the answer then says limit and how far off it may be"`
	Gap   unit.Ratio `json:"gap,omitempty" doc:"stop when proven to be within this share of the best"`
}

type pieceIn struct {
	Name       string         `json:"name" minLength:"1" maxLength:"100"`
	BreaksInto map[string]int `json:"breaks_into,omitempty" doc:"what one piece gives when it is broken"`
	FreshMin   *int           `json:"fresh_min,omitempty" minimum:"0" maximum:"40000"`
	FreshMax   *int           `json:"fresh_max,omitempty" minimum:"0" maximum:"40000"`
	FrozenMax  *int           `json:"frozen_max,omitempty" minimum:"0" maximum:"40000"`
	Target     int            `json:"target,omitempty" minimum:"0" maximum:"40000" doc:"days wanted from delivery to class among equally cheap uses; as few as possible when not given"`
}

type formIn struct {
	Name  string         `json:"name" minLength:"1" maxLength:"100"`
	Gives map[string]int `json:"gives" doc:"pieces by kind"`
	Group string         `json:"group" minLength:"1" doc:"what it counts against, as in caps and slots"`
	Size  int            `json:"size,omitempty" minimum:"1" maximum:"10000" doc:"and for how much; 1 when not given"`
}

type orderClassIn struct {
	ID       labelOr        `json:"id"`
	Type     string         `json:"type,omitempty"`
	Day      dayOr          `json:"day"`
	Seats    int            `json:"seats,omitempty" minimum:"0" maximum:"10000" doc:"not used: demand says what is needed"`
	Demand   map[string]int `json:"demand" doc:"pieces by kind"`
	FrozenOK []string       `json:"frozen_ok,omitempty" maxItems:"100" doc:"kinds that may come frozen"`
	Thaw     map[string]int `json:"thaw,omitempty" doc:"by kind; the general one when not given"`
	From     []labelOr      `json:"from,omitempty" maxItems:"2000" doc:"the only offers that may feed it; any that comes in time when not given"`
	OneOffer bool           `json:"one_offer,omitempty" doc:"all its pieces come from one offer"`
}

type offerIn struct {
	ID       labelOr                `json:"id"`
	Farm     *labelOr               `json:"farm,omitempty"`
	Kill     *dayOr                 `json:"kill,omitempty"`
	Day      dayOr                  `json:"day" doc:"of delivery"`
	Price    map[string]centsOr     `json:"price,omitempty" doc:"of one unit, by form"`
	PerPound map[string]centsOr     `json:"price_per_lb,omitempty" doc:"instead: of a pound hanging, by form"`
	Hanging  map[string]unit.Weight `json:"hanging,omitempty" doc:"expected hanging weight, by form; the general one when not given"`
	Halves   *int                   `json:"pig_halves_cap,omitempty" minimum:"0" maximum:"10000" doc:"most of group halves"`
	Boxes    *int                   `json:"box_cap,omitempty" minimum:"0" maximum:"10000" doc:"most of group boxes"`
	Caps     map[string]int         `json:"caps,omitempty" doc:"most, by group"`
	Drop     centsOr                `json:"drop,omitempty" doc:"haul charge, once if anything is ordered"`
	Slot     string                 `json:"slot,omitempty" doc:"name in slots"`
	OrderBy  *dayOr                 `json:"order_by,omitempty" doc:"last day to order; else kill less lead"`
	Lead     *int                   `json:"lead,omitempty" minimum:"0" maximum:"4000"`
}

type sharedSlotIn struct {
	Name  string `json:"name" minLength:"1"`
	Group string `json:"group" minLength:"1"`
	Most  int    `json:"most" minimum:"0" maximum:"10000"`
}

type roomOnIn struct {
	Day dayOr `json:"day"`
	Cap int   `json:"cap" minimum:"0" maximum:"1000000"`
}

type planOut struct {
	Status   string  `json:"status"`
	Cost     any     `json:"cost"`
	Bound    any     `json:"bound"`
	Gap      any     `json:"gap"`
	Differs  string  `json:"differs,omitempty"`
	Orders   [][]any `json:"orders"`
	Broken   [][]any `json:"broken"`
	Uses     [][]any `json:"uses"`
	Sold     [][]any `json:"sold"`
	LeftOver [][]any `json:"left_over"`
}

type excludedOut struct {
	Offer any    `json:"offer"`
	Why   string `json:"why"`
}

type reasonOut struct {
	Of   string `json:"of"`
	Text string `json:"text"`
}

type buyingOut struct {
	planOut
	Reasons  []reasonOut   `json:"reasons"`
	Excluded []excludedOut `json:"excluded"`
	Next     []planOut     `json:"next"`
	Work     int64         `json:"work"`
}

const (
	usualWork = 400_000 // the limit when none is given: half a minute or so
	nearWork  = 3000    // on days nearer to the wanted ones among equally cheap purchases
)

func runOrder(in buyingIn) (buyingOut, error) {
	t := orderTranslation{in: in, labels: map[string]any{}}
	p := t.problem()
	if err := t.faults.Err(); err != nil {
		return buyingOut{}, err
	}
	opt := order.Options{Limit: integer.Limit{Work: cmp.Or(in.Work, usualWork)}, Plans: cmp.Or(in.Plans, 3), Gap: int64(in.Gap), Near: nearWork}
	a, err := order.Solve(p, opt)
	var short *order.Short
	switch {
	case errors.As(err, &short):
		wrong := make([]Wrong, len(short.Why))
		for i, w := range short.Why {
			wrong[i] = Wrong{"classes", w}
		}
		return buyingOut{}, &Problem{Type: "about:blank", Title: "Unprocessable Content", Status: 422, Detail: order.ErrNoPlan.Error(), Errors: wrong}
	case err != nil:
		return buyingOut{}, err
	}
	out := buyingOut{planOut: t.plan(a.Plan), Reasons: []reasonOut{}, Excluded: []excludedOut{}, Next: []planOut{}, Work: a.Work}
	for _, r := range a.Reasons {
		out.Reasons = append(out.Reasons, reasonOut{r.Of, r.Text})
	}
	for _, l := range a.Left {
		out.Excluded = append(out.Excluded, excludedOut{t.labels["offer "+l.Offer], l.Why})
	}
	for _, n := range a.Next {
		next := t.plan(n)
		next.Differs = order.Differs(a.Plan, n)
		out.Next = append(out.Next, next)
	}
	return out, nil
}

// orderTranslation turns the document into a problem and a plan back into the
// document's own words: names as numbers where they came as numbers, money likewise.
type orderTranslation struct {
	in     buyingIn
	faults unit.Faults
	labels map[string]any
}

func (t *orderTranslation) day(field string, d dayOr) int {
	n := d.number
	if d.date != 0 {
		if t.in.Start == 0 {
			t.faults.Add(field, "is a date: the document must say its start, the date called day 0")
			return 0
		}
		n = int(d.date - t.in.Start)
	}
	return n
}

func counts(m map[string]int) (list []order.Count) {
	for _, k := range slices.Sorted(maps.Keys(m)) {
		list = append(list, order.Count{Name: k, N: m[k]})
	}
	return list
}

func (t *orderTranslation) problem() order.Problem {
	in := t.in
	kinds, forms := in.Kinds, in.Forms
	if len(kinds) == 0 {
		kinds = []pieceIn{{Name: "side", BreaksInto: map[string]int{"belly": 1, "shoulder": 1, "loin": 1, "leg": 1}},
			{Name: "belly"}, {Name: "shoulder"}, {Name: "loin"}, {Name: "leg"}}
	}
	if len(forms) == 0 {
		forms = []formIn{{"whole", map[string]int{"side": 2}, "halves", 2}, {"half", map[string]int{"side": 1}, "halves", 1},
			{"bellybox", map[string]int{"belly": 6}, "boxes", 1}}
	}
	p := order.Problem{}
	known := map[string]bool{}
	for _, k := range kinds {
		known[k.Name] = true
		space, given := in.Shelf[k.Name]
		if !given {
			space = 1
		}
		p.Kinds = append(p.Kinds, order.Kind{Name: k.Name, Space: space, FreshMin: or(k.FreshMin, in.FreshMin), FreshMax: or(k.FreshMax, in.FreshMax),
			FrozenMax: or(k.FrozenMax, in.FrozenMax), FreezeCost: in.FreezeCost[k.Name].money, Value: in.Value[k.Name].money,
			Outlet: in.RetailCap[k.Name], BreaksInto: counts(k.BreaksInto), Target: k.Target})
	}
	t.unknown("freeze_cost", "kind", keysOf(in.FreezeCost), known)
	t.unknown("shelf", "kind", keysOf(in.Shelf), known)
	t.unknown("value", "kind", keysOf(in.Value), known)
	t.unknown("retail_cap", "kind", keysOf(in.RetailCap), known)
	t.unknown("thaw", "kind", keysOf(in.Thaw), known)
	for _, f := range forms {
		p.Forms = append(p.Forms, order.Form{Name: f.Name, Gives: counts(f.Gives), Group: f.Group, Size: max(1, f.Size)})
	}
	p.Cooler, p.Freezer = t.room("cooler_on", in.Cooler, in.CoolerOn), t.room("freezer_on", in.Freezer, in.FreezerOn)
	for _, s := range in.Slots {
		p.Slots = append(p.Slots, order.Slot(s))
	}
	if in.Today != nil {
		p.Today = t.day("today", *in.Today)
	}
	for i, o := range in.Offers {
		p.Offers = append(p.Offers, t.offer(fmt.Sprintf("offers[%d]", i), o, forms))
	}
	for i, c := range in.Classes {
		at := fmt.Sprintf("classes[%d]", i)
		cl := order.Class{ID: c.ID.text, Day: t.day(at+".day", c.Day), Demand: counts(c.Demand), FrozenOK: c.FrozenOK}
		thaw := maps.Clone(in.Thaw)
		if thaw == nil {
			thaw = map[string]int{}
		}
		maps.Copy(thaw, c.Thaw)
		cl.Thaw, cl.OneOffer = counts(thaw), c.OneOffer
		for _, o := range c.From {
			cl.From = append(cl.From, o.text)
		}
		t.labels["class "+c.ID.text] = c.ID
		p.Classes = append(p.Classes, cl)
	}
	if in.Start != 0 {
		p.DayName = func(d int) string { return (in.Start + unit.Day(d)).Show() }
	}
	return p
}

func (t *orderTranslation) unknown(field, what string, keys []string, known map[string]bool) {
	for _, k := range keys {
		if !known[k] {
			t.faults.Add(field+"."+k, "there is no such "+what)
		}
	}
}

func keysOf[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

func or(v *int, general int) int {
	if v != nil {
		return *v
	}
	return general
}

func (t *orderTranslation) room(field string, size *int, on []roomOnIn) order.Room {
	r := order.Room{Cap: or(size, 1_000_000)}
	for i, o := range on {
		if r.Except == nil {
			r.Except = map[int]int{}
		}
		d := t.day(fmt.Sprintf("%s[%d].day", field, i), o.Day)
		if _, twice := r.Except[d]; twice {
			t.faults.Add(fmt.Sprintf("%s[%d].day", field, i), "given twice")
		}
		r.Except[d] = o.Cap
	}
	return r
}

func (t *orderTranslation) offer(at string, o offerIn, forms []formIn) order.Offer {
	out := order.Offer{ID: o.ID.text, Day: t.day(at+".day", o.Day), Drop: o.Drop.money, Slot: o.Slot}
	t.labels["offer "+o.ID.text] = o.ID
	if o.Farm != nil {
		out.Farm = o.Farm.text
	}
	out.Kill = out.Day
	if o.Kill != nil {
		out.Kill = t.day(at+".kill", *o.Kill)
	}
	if t.in.Today != nil {
		out.HasOrderBy, out.OrderBy = true, out.Kill-or(o.Lead, t.in.Lead)
		if o.OrderBy != nil {
			out.OrderBy = t.day(at+".order_by", *o.OrderBy)
		}
	}
	caps := maps.Clone(o.Caps)
	if caps == nil {
		caps = map[string]int{}
	}
	for group, n := range map[string]*int{"halves": o.Halves, "boxes": o.Boxes} {
		if n == nil {
			continue
		}
		if _, twice := caps[group]; twice {
			t.faults.Add(at+".caps."+group, "is given here and in a field of its own")
		}
		caps[group] = *n
	}
	groups := map[string]bool{}
	for _, f := range forms {
		groups[f.Group] = true
	}
	for _, c := range counts(caps) {
		if c.N > 0 || groups[c.Name] {
			out.Caps = append(out.Caps, c)
		}
	}
	for _, f := range forms {
		price, plain := o.Price[f.Name]
		pound, byWeight := o.PerPound[f.Name]
		switch {
		case plain && byWeight:
			t.faults.Add(at+".price_per_lb."+f.Name, "has a price already")
		case plain:
			out.Prices = append(out.Prices, order.Price{Form: f.Name, Unit: price.money})
		case byWeight:
			w, ok := o.Hanging[f.Name]
			if !ok {
				w, ok = t.in.Hanging[f.Name]
			}
			if !ok || w <= 0 {
				t.faults.Add(at+".price_per_lb."+f.Name, "wants a hanging weight expected of a "+f.Name)
				continue
			}
			out.Prices = append(out.Prices, order.Price{Form: f.Name, Unit: pound.money.PerPound(w), Why: fmt.Sprintf("%s a lb × %s hanging", pound.money, lb(w))})
		}
	}
	known := map[string]bool{}
	for _, f := range forms {
		known[f.Name] = true
	}
	t.unknown(at+".price", "form", keysOf(o.Price), known)
	t.unknown(at+".price_per_lb", "form", keysOf(o.PerPound), known)
	return out
}

func (t *orderTranslation) plan(p order.Plan) planOut {
	out := planOut{Status: string(order.Limit), Cost: t.money(p.Cost), Bound: t.money(p.Bound), Gap: t.money(p.Cost - p.Bound),
		Orders: [][]any{}, Broken: [][]any{}, Uses: [][]any{}, Sold: [][]any{}, LeftOver: [][]any{}}
	if p.Proven {
		out.Status = string(order.Proven)
	}
	for _, o := range p.Orders {
		out.Orders = append(out.Orders, []any{t.labels["offer "+o.Offer], o.Form, o.Units})
	}
	for _, u := range p.Uses {
		how := "fresh"
		if u.Frozen {
			how = "frozen"
		}
		out.Uses = append(out.Uses, []any{t.labels["offer "+u.Offer], t.labels["class "+u.Class], u.Kind, u.Pieces, how})
	}
	pieces := func(list []order.Piece) [][]any {
		rows := [][]any{}
		for _, s := range list {
			rows = append(rows, []any{t.labels["offer "+s.Offer], s.Kind, s.Pieces})
		}
		return rows
	}
	out.Broken, out.Sold, out.LeftOver = pieces(p.Broken), pieces(p.Sold), pieces(p.Waste)
	return out
}

// money is written as it came: in plain cents when the document's prices were.
func (t *orderTranslation) money(m unit.Money) any {
	for _, o := range t.in.Offers {
		for _, list := range []map[string]centsOr{o.Price, o.PerPound} {
			for _, c := range list {
				if c.text {
					return m
				}
			}
		}
	}
	return int64(m)
}
