package frontend

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

var hangPages = map[string]Page{"owner_hang": {Shop, HangPage{}}}

// HangPage is the what-if of hanging weight: a slider that works as a plain form, and by
// itself where scripts run. The server reckons either way.
type HangPage struct {
	Layout
	Form   Form
	Sheet  store.HangSheet
	Codes  string
	Kill   string // as the form carries it
	Least  string // whole pounds
	Most   string
	Value  string
	Levels []Choice
	Said   []string // what it comes to, in words
	Short  bool
	What   string // "2 pigs"
}

func (s *Site) hangRoutes(e *echo.Echo) {
	e.GET("/owner/meat/weight", s.hang, api.Need(shop.Owner))
}

var levels = []demand.Level{demand.Sold, demand.Expected, demand.Full}

// hang answers a question asked in the address. A weight that cannot be read is said
// beside the slider, and the usual one is shown.
func (s *Site) hang(c echo.Context) error {
	q := c.QueryParams()
	f := Form{Values: url.Values{"hang": q["hang"], "count": q["count"]}}
	if !q.Has("hang") && !q.Has("count") {
		f.Values = nil
	}
	ask := store.HangAsk{Species: q.Get("species"), Level: demand.Full}
	var err error
	if ask.Kill, err = unit.ParseDay(q.Get("kill")); err != nil {
		return shop.Missing("The kill")
	}
	ask.Order, _ = strconv.Atoi(q.Get("order"))
	for _, l := range levels {
		if l.String() == q.Get("count") {
			ask.Level = l
		}
	}
	if typed := strings.TrimSpace(q.Get("hang")); typed != "" {
		if ask.Hang, err = unit.ParseWeightIn(typed, unit.Pound); err != nil {
			f.Fail("hang", err.Error())
		}
	}
	ctx, status := c.Request().Context(), http.StatusOK
	h, err := s.Store.HangSheet(ctx, ask)
	if err != nil && ask.Hang != 0 && refused(&f, err) {
		ask.Hang = 0
		h, err = s.Store.HangSheet(ctx, ask)
	}
	if err != nil {
		return err
	}
	if !f.OK() {
		status = http.StatusUnprocessableEntity
	}
	if f.Values != nil {
		f.Values.Set("count", ask.Level.String())
	}
	p := HangPage{Layout: s.Layout(c, "What if they hang lighter"), Form: f, Sheet: *h, Codes: strings.Join(h.Codes, ", "), Kill: h.Kill.String(),
		Least: whole(h.Least), Most: whole(h.Most), Value: whole(h.At.HCW), What: shop.AnimalsIn(h.Species, h.At.Animals),
		Said: hangSaid(h), Short: h.At.Short > 0}
	for _, l := range levels {
		p.Levels = append(p.Levels, Choice{Value: l.String(), Label: "seats " + l.String()})
	}
	return s.Render(c, status, "owner_hang", p)
}

func whole(w unit.Weight) string { return w.Number(unit.Pound, 0) }

// hangSaid is the answer in sentences.
func hangSaid(h *store.HangSheet) []string {
	a := h.At
	var out []string
	if a.Slabs != h.Same.Slabs {
		out = append(out, plural(h.Same.Slabs, "slab", "slabs")+" at "+h.Usual.LB()+" become "+strconv.Itoa(a.Slabs)+".")
	}
	switch {
	case a.Short == 0:
		out = append(out, strconv.Itoa(a.Wanted)+" wanted: enough.")
	case a.Skins > 0:
		out = append(out, strconv.Itoa(a.Wanted)+" wanted: short "+strconv.Itoa(a.Short)+".",
			"Skin left on "+plural(a.Skins, "belly", "bellies")+" of "+strconv.Itoa(a.Bellies)+" closes it: "+strconv.Itoa(a.SkinOn.Slabs.Count)+" × "+a.SkinOn.Slabs.Each.LB()+" a belly instead of "+strconv.Itoa(a.Plain.Slabs.Count)+".")
	default:
		out = append(out, strconv.Itoa(a.Wanted)+" wanted: short "+strconv.Itoa(a.Short)+".", "Skin left on every belly gives "+plural(a.SkinSlabs, "slab", "slabs")+": not enough.")
	}
	if a.Short > 0 && a.Needs > a.Animals {
		out = append(out, "Skinless it would take "+shop.AnimalsIn(h.Species, a.Needs)+".")
	}
	return out
}
