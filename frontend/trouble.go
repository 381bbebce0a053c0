package frontend

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var troublePages = map[string]Page{
	"owner_troubles": {Shop, TroublesPage{}},
	"owner_trouble":  {Shop, TroublePage{}},
}

// TroublesPage lists what is wrong, and takes down that the plant has moved a kill.
type TroublesPage struct {
	Layout
	Troubles []store.Trouble
	Form     Form
	Orders   []Choice
	Moved    *store.MovedKill // what another day would touch, before it is saved
}

// TroublePage is the sheet of one trouble.
type TroublePage struct {
	Layout
	Trouble store.Trouble
	Form    Form // the ways ticked
	Ways    []Choice
	Talk    []store.TroubleWay // what cannot be pressed
	Reason  bool               // a way is there that people read a reason of
	Letters []LetterCard
	Thanks  Form // who said yes
	Parties []Choice
	Dates   []Choice
}

// LetterCard is a draft in its form.
type LetterCard struct {
	store.Letter
	Form Form
	Who  []Choice
	Left int // recipients it has not gone to
}

func (s *Site) troubleRoutes(e *echo.Echo) {
	g, owner := e.Group("/owner/trouble"), api.Need(shop.Owner)
	g.GET("", func(c echo.Context) error { return s.troubles(c, http.StatusOK, Form{}, nil) }, owner)
	g.POST("/kill", s.moveKill, owner)
	g.GET("/:key", func(c echo.Context) error { return s.trouble(c, http.StatusOK, "", Form{}) }, owner)
	g.POST("/:key/ways", s.takeWays, owner)
	g.POST("/:key/letters/:letter", s.sendLetters, owner)
	g.POST("/:key/thanks", s.moveWithThanks, owner)
}

func (s *Site) troubles(c echo.Context, status int, f Form, moved *store.MovedKill) error {
	ctx := c.Request().Context()
	p := TroublesPage{Layout: s.Layout(c, "Trouble"), Form: f, Moved: moved}
	var err error
	if p.Troubles, err = s.Store.Troubles(ctx); err != nil {
		return err
	}
	orders, err := s.Store.Orders(ctx, s.Store.Today()+1)
	if err != nil {
		return err
	}
	for _, o := range orders {
		if o.State == shop.Asked || o.State == shop.Promised || o.State == shop.SlotHeld {
			p.Orders = append(p.Orders, Choice{Value: fmt.Sprint(o.Number), Label: fmt.Sprintf("Order %d, %s, %s for %s, kill %s", o.Number, o.Farm, o.What(), o.Codes, o.Kill.Show())})
		}
	}
	return s.Render(c, status, "owner_troubles", p)
}

// moveKill first shows what another kill day touches; only the second press saves it.
func (s *Site) moveKill(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	number, nerr := strconv.Atoi(f.Values.Get("order"))
	if nerr != nil {
		f.Fail("order", "Choose the order.")
	}
	to, derr := unit.ParseDay(f.Values.Get("to"))
	if derr != nil {
		f.Fail("to", "Write a date such as 2026-11-05.")
	}
	if !f.OK() {
		return s.troubles(c, http.StatusUnprocessableEntity, f, nil)
	}
	if f.Values.Get("sure") != "yes" {
		m, err := s.Store.KillMoves(ctx, number, to)
		if err != nil {
			if refused(&f, err) {
				return s.troubles(c, api.Status(err), f, nil)
			}
			return err
		}
		return s.troubles(c, http.StatusOK, f, m)
	}
	m, err := s.Store.MoveKill(ctx, api.Actor(c), number, to, f.Values.Get("why"))
	if err != nil {
		if refused(&f, err) {
			return s.troubles(c, api.Status(err), f, nil)
		}
		return err
	}
	s.say(c, fmt.Sprintf("%s: kill moved to %s, delivery %s. The farm is written to; no guest is.", m.Order.Ref(), m.To.Show(), m.Deliver.Show()))
	return c.Redirect(http.StatusSeeOther, "/owner/trouble")
}

// trouble shows a sheet; a form that was refused is put back where it was typed: "ways",
// "thanks", or a letter's ID.
func (s *Site) trouble(c echo.Context, status int, at string, f Form) error {
	ctx := c.Request().Context()
	t, err := s.Store.Trouble(ctx, c.Param("key"))
	if err != nil {
		return err
	}
	p := TroublePage{Layout: s.Layout(c, "Trouble"), Trouble: *t}
	p.Form = Form{Once: s.once(), Values: url.Values{"reason": {t.Reason}}}
	if at == "ways" {
		once := p.Form.Once
		p.Form, p.Form.Once = f, once
	}
	for _, w := range t.Ways {
		if w.ID == "" {
			p.Talk = append(p.Talk, w)
			continue
		}
		label := fmt.Sprintf("%s: %s", w.Remedy, w.What)
		if t.Short > 0 {
			label += fmt.Sprintf(" (+%d)", w.Gain)
		}
		p.Ways = append(p.Ways, Choice{Value: w.ID, Label: label, Hint: w.Why + ". Costs: " + w.Costs + "."})
		word, _, _ := strings.Cut(w.ID, ":")
		p.Reason = p.Reason || slices.Contains([]string{"move", "off", "order-off"}, word)
	}
	for i, l := range t.Letters {
		card := LetterCard{Letter: l, Form: Form{Prefix: fmt.Sprintf("l%d-", i), Values: url.Values{"subject": {l.Subject}, "body": {l.Body}}}}
		for _, r := range l.To {
			label := r.Name
			if r.Ref != "" {
				label += " (" + r.Ref + ")"
			}
			switch {
			case r.Written != 0:
				label += ", written " + r.Written.Show(s.Store.Loc)
			case !r.Mail:
				label += ", no address: ring"
			default:
				card.Left++
				card.Form.Values.Add("to", r.ID)
			}
			card.Who = append(card.Who, Choice{Value: r.ID, Label: label, Off: r.Written != 0 || !r.Mail})
		}
		if at == l.ID {
			card.Form.Values, card.Form.Errors, card.Form.Order = f.Values, f.Errors, f.Order
		}
		p.Letters = append(p.Letters, card)
	}
	if err := s.thanks(c, &p, at, f); err != nil {
		return err
	}
	return s.Render(c, status, "owner_trouble", p)
}

// thanks fills the form that moves a party that said yes.
func (s *Site) thanks(c echo.Context, p *TroublePage, at string, f Form) error {
	p.Thanks = Form{Prefix: "t-", Once: s.once()}
	if at == "thanks" {
		p.Thanks.Values, p.Thanks.Errors, p.Thanks.Order = f.Values, f.Errors, f.Order
	}
	for _, t := range p.Trouble.Touched {
		if t.Short == 0 || t.State == shop.ClassOff {
			continue
		}
		for _, b := range t.Bookings {
			if b.State == shop.Firm {
				p.Parties = append(p.Parties, Choice{Value: fmt.Sprint(b.ID), Label: fmt.Sprintf("%s %s, %s", b.Ref, b.Name, t.Code)})
			}
		}
	}
	if len(p.Parties) == 0 {
		return nil
	}
	cards, err := s.Store.Classes(c.Request().Context(), s.Store.Today())
	if err != nil {
		return err
	}
	touched := map[string]bool{}
	for _, t := range p.Trouble.Touched {
		touched[t.Code] = true
	}
	for _, k := range cards {
		if k.Left > 0 && !k.Private && !touched[k.Code] && (k.State == shop.Open || k.State == shop.GoingAhead) {
			p.Dates = append(p.Dates, Choice{Value: k.Code, Label: fmt.Sprintf("%s, %s: %s left", k.Code, k.StartsAt.Show(s.Store.Loc), plural(k.Left, "seat", "seats"))})
		}
	}
	return nil
}

func (s *Site) takeWays(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	key, ids := c.Param("key"), f.Values["way"]
	once := store.Once{Key: f.Values.Get("once"), Fingerprint: key + strings.Join(ids, ",")}
	if err := s.Store.TakeWays(c.Request().Context(), api.Actor(c), key, ids, f.Values.Get("reason"), once); err != nil {
		if refused(&f, err) {
			return s.trouble(c, api.Status(err), "ways", f)
		}
		return err
	}
	return s.afterTrouble(c, key, "Done, and written down.")
}

// afterTrouble leads back to the sheet while the trouble lasts, else to the list.
func (s *Site) afterTrouble(c echo.Context, key, said string) error {
	if _, err := s.Store.Trouble(c.Request().Context(), key); err != nil {
		if e, ok := shop.AsError(err); !ok || e.Kind != shop.NotFound {
			return err
		}
		s.say(c, said+" This trouble is over.")
		return c.Redirect(http.StatusSeeOther, "/owner/trouble")
	}
	s.say(c, said)
	return c.Redirect(http.StatusSeeOther, "/owner/trouble/"+url.PathEscape(key))
}

func (s *Site) sendLetters(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	key, letter := c.Param("key"), c.Param("letter")
	n, err := s.Store.SendLetters(c.Request().Context(), api.Actor(c), key, letter, shop.LetterText{Subject: f.Values.Get("subject"), Body: f.Values.Get("body")}, f.Values["to"])
	if err != nil {
		if refused(&f, err) {
			return s.trouble(c, api.Status(err), letter, f)
		}
		return err
	}
	return s.afterTrouble(c, key, plural(n, "letter is on its way.", "letters are on their way."))
}

func (s *Site) moveWithThanks(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	key := c.Param("key")
	id, err := strconv.ParseInt(f.Values.Get("party"), 10, 64)
	if err != nil {
		f.Fail("party", "Choose who said yes.")
		return s.trouble(c, http.StatusUnprocessableEntity, "thanks", f)
	}
	once := store.Once{Key: f.Values.Get("once"), Fingerprint: f.Values.Get("party") + f.Values.Get("to")}
	if err := s.Store.MoveWithThanks(c.Request().Context(), api.Actor(c), shop.BookingID(id), f.Values.Get("to"), once); err != nil {
		if refused(&f, err) {
			return s.trouble(c, api.Status(err), "thanks", f)
		}
		return err
	}
	return s.afterTrouble(c, key, "They are moved, with a tenth of what they paid as credit.")
}
