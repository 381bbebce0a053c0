package frontend

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var meatPages = map[string]Page{
	"owner_meat":  {Shop, MeatPage{}},
	"owner_floor": {Shop, FloorPage{}},
}

// MeatPage is the meat sheet by kill.
type MeatPage struct {
	Layout
	Form   Form // what could not be done
	Cards  []MeatCard
	Loose  []LooseCard
	Orders []store.OrderRow
}

// MeatCard is one kill's animals and the form that orders them.
type MeatCard struct {
	store.MeatGroup
	Animal  string // "pigs"
	Codes   string
	LeftFor string // time to the order-by, in words
	Form    Form
	Farms   []Choice
	Bases   []Choice
	Cuts    []MeatCut
}

// Slabs says whether slabs are cut from these animals.
func (c MeatCard) Slabs() bool { return c.Bets[2].Slabs > 0 }

// MeatCut is a cut the three bets leave, by weight.
type MeatCut struct {
	Name   string
	Weight [3]unit.Weight
}

// LooseCard is classes without a kill day.
type LooseCard struct {
	store.KillProposal
	Form Form
	Days []Choice
	No   []string // days that do not fit, with the reason
}

func (s *Site) meatRoutes(e *echo.Echo) {
	g, owner := e.Group("/owner"), api.Need(shop.Owner)
	g.GET("/meat", func(c echo.Context) error { return s.meat(c, http.StatusOK, "", Form{}) }, owner)
	g.POST("/meat/plan", s.planKill, owner)
	g.POST("/meat/plan-all", s.planSeason, owner)
	g.POST("/meat/orders", s.draftOrder, owner)
	g.GET("/floor", func(c echo.Context) error { return s.floor(c, http.StatusOK, Form{}, nil) }, owner)
	g.POST("/floor", s.closeFloor, owner)
}

// meat shows the sheet; a form that was refused is put back where it was typed.
func (s *Site) meat(c echo.Context, status int, at string, refused Form) error {
	ctx := c.Request().Context()
	today := s.Store.Today()
	sheet, err := s.Store.MeatSheet(ctx, today-14, today+120)
	if err != nil {
		return err
	}
	p := MeatPage{Layout: s.Layout(c, "Meat")}
	if p.Orders, err = s.Store.Orders(ctx, today-14); err != nil {
		return err
	}
	for i, g := range sheet.Groups {
		p.Cards = append(p.Cards, s.meatCard(g, i, at, refused))
	}
	for i, l := range sheet.Loose {
		p.Loose = append(p.Loose, s.looseCard(l, i, at, refused))
	}
	if at == "" {
		p.Form = refused
	}
	return s.Render(c, status, "owner_meat", p)
}

func (s *Site) meatCard(g store.MeatGroup, i int, at string, refused Form) MeatCard {
	card := MeatCard{MeatGroup: g, Animal: strings.TrimPrefix(shop.AnimalsIn(g.Species, 2), "2 "), LeftFor: leftFor(g.Left)}
	var codes []string
	for _, cl := range g.Classes {
		codes = append(codes, cl.Code)
	}
	card.Codes = strings.Join(codes, ",")
	for _, f := range g.Farms {
		card.Farms = append(card.Farms, Choice{Value: f.Code, Label: fmt.Sprintf("%s (%s, %s)", f.Name, f.Breed, f.Row.HCW.LB())})
	}
	for j, b := range g.Bets {
		word := [...]string{"sold", "expected", "full"}[j]
		card.Bases = append(card.Bases, Choice{Value: word, Label: fmt.Sprintf("%s: %s", word, shop.AnimalsIn(g.Species, b.Animals))})
		for k, cut := range b.Leaves.Cuts {
			if k >= len(card.Cuts) {
				card.Cuts = append(card.Cuts, MeatCut{Name: cut.Name})
			}
			card.Cuts[k].Weight[j] = cut.Weight
		}
	}
	card.Form = Form{Prefix: fmt.Sprintf("g%d-", i), Once: s.once()}
	if at == card.Codes {
		card.Form.Values, card.Form.Errors, card.Form.Order = refused.Values, refused.Errors, refused.Order
	}
	return card
}

func (s *Site) looseCard(l store.KillProposal, i int, at string, refused Form) LooseCard {
	card := LooseCard{KillProposal: l, Form: Form{Prefix: fmt.Sprintf("l%d-", i)}}
	for _, d := range l.Choice.All {
		if d.Fits {
			card.Days = append(card.Days, Choice{Value: d.Kill.String(), Label: fmt.Sprintf("%s, %d days before, order by %s", d.Kill.Show(), d.Hang, d.OrderBy.Show())})
			continue
		}
		card.No = append(card.No, d.Kill.Show()+": "+strings.Join(d.Reasons, "; "))
	}
	card.Form.Values = url.Values{"kill": {l.Choice.Chosen.Kill.String()}}
	if at == l.Codes() {
		card.Form.Values, card.Form.Errors, card.Form.Order = refused.Values, refused.Errors, refused.Order
	}
	return card
}

// leftFor writes how long something is ahead: "6 days 4 h", "3 h 20 min".
func leftFor(sec unit.Instant) string {
	d := time.Duration(sec) * time.Second
	switch {
	case sec == 0:
		return ""
	case d >= 48*time.Hour:
		return fmt.Sprintf("%d days %d h", d/(24*time.Hour), d%(24*time.Hour)/time.Hour)
	default:
		return fmt.Sprintf("%d h %d min", d/time.Hour, d%time.Hour/time.Minute)
	}
}

func splitCodes(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' })
}

func (s *Site) planKill(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	codes := f.Values.Get("classes")
	day, perr := unit.ParseDay(f.Values.Get("kill"))
	if perr != nil {
		f.Fail("kill", "Choose a kill day.")
		return s.meat(c, http.StatusUnprocessableEntity, codes, f)
	}
	if err := s.Store.PlanKills(c.Request().Context(), api.Actor(c), splitCodes(codes), day); err != nil {
		if refused(&f, err) {
			return s.meat(c, api.Status(err), codes, f)
		}
		return err
	}
	s.say(c, codes+": kill planned for "+day.Show()+".")
	return c.Redirect(http.StatusSeeOther, "/owner/meat")
}

func (s *Site) planSeason(c echo.Context) error {
	n, err := s.Store.PlanSeason(c.Request().Context(), api.Actor(c))
	if err != nil {
		var f Form
		if refused(&f, err) {
			return s.meat(c, api.Status(err), "", f)
		}
		return err
	}
	s.say(c, fmt.Sprintf("%d classes have a kill day now.", n))
	return c.Redirect(http.StatusSeeOther, "/owner/meat")
}

func (s *Site) draftOrder(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	v := f.Values
	n := store.NewOrder{Farm: v.Get("farm"), Species: v.Get("species"), Basis: v.Get("basis"), Classes: splitCodes(v.Get("classes")),
		Once: store.Once{Key: v.Get("once"), Fingerprint: v.Get("kill") + v.Get("classes") + v.Get("animals") + v.Get("farm")}}
	var perr error
	if n.Kill, perr = unit.ParseDay(v.Get("kill")); perr != nil {
		f.Fail("", perr.Error())
	}
	if n.Animals, perr = strconv.Atoi(strings.TrimSpace(v.Get("animals"))); perr != nil {
		f.Fail("animals", "Write a whole number of animals.")
	}
	if !f.OK() {
		return s.meat(c, http.StatusUnprocessableEntity, v.Get("classes"), f)
	}
	o, err := s.Store.DraftOrder(c.Request().Context(), api.Actor(c), n)
	if err != nil {
		if refused(&f, err) {
			return s.meat(c, api.Status(err), v.Get("classes"), f)
		}
		return err
	}
	s.say(c, o.Ref()+" is drafted. Nothing has been sent yet.")
	return c.Redirect(http.StatusSeeOther, fmt.Sprintf("/owner/orders/%d", o.Number))
}

// FloorPage enters a span in which the plant does not kill.
type FloorPage struct {
	Layout
	Form    Form
	Looked  bool
	Touched []store.FloorTouch
	Species []Choice
}

func (s *Site) floor(c echo.Context, status int, f Form, touched []store.FloorTouch) error {
	p := FloorPage{Layout: s.Layout(c, "Kill floor closed"), Form: f, Looked: touched != nil, Touched: touched}
	for _, w := range []string{"pork", "beef", "lamb", "deer"} {
		p.Species = append(p.Species, Choice{Value: w, Label: w})
	}
	return s.Render(c, status, "owner_floor", p)
}

// closeFloor first shows what a closure touches; only the second press enters it.
func (s *Site) closeFloor(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	cl := store.Closing{Species: f.Values["species"], Reason: f.Values.Get("reason")}
	for name, d := range map[string]*unit.Day{"from": &cl.From, "to": &cl.To} {
		if *d, err = unit.ParseDay(f.Values.Get(name)); err != nil {
			f.Fail(name, "Write a date such as 2026-11-16.")
		}
	}
	if told := f.Values.Get("told"); told != "" {
		if cl.Told, err = unit.ParseDay(told); err != nil {
			f.Fail("told", "Write a date such as 2026-10-05.")
		}
	}
	if !f.OK() {
		return s.floor(c, http.StatusUnprocessableEntity, f, nil)
	}
	ctx := c.Request().Context()
	if f.Values.Get("sure") != "yes" {
		touched, err := s.Store.FloorImpact(ctx, cl)
		if err != nil {
			if refused(&f, err) {
				return s.floor(c, api.Status(err), f, nil)
			}
			return err
		}
		if touched == nil {
			touched = []store.FloorTouch{}
		}
		return s.floor(c, http.StatusOK, f, touched)
	}
	touched, err := s.Store.CloseFloor(ctx, api.Actor(c), cl)
	if err != nil {
		if refused(&f, err) {
			return s.floor(c, api.Status(err), f, nil)
		}
		return err
	}
	s.say(c, fmt.Sprintf("The kill floor is closed %s to %s; %d classes were touched.", cl.From.Show(), cl.To.Show(), len(touched)))
	return c.Redirect(http.StatusSeeOther, "/owner/meat")
}
