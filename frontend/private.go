package frontend

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var privatePages = map[string]Page{
	"private":       {Public, PrivatePage{}},
	"private_asked": {Public, PrivateAskedPage{}},
	"staff_private": {Shop, StaffPrivatePage{}},
}

// PrivatePage is what a party of its own may have, its price, and the free evenings.
type PrivatePage struct {
	Layout
	Private store.PrivatePage
	Form    Form
	Offers  []Choice
	Days    []Choice
	Share   Share
}

// PrivateAskedPage says back what was asked for and what it would cost.
type PrivateAskedPage struct {
	Layout
	Asked store.QuoteView
	Mail  string
}

// StaffPrivatePage lists who asked for an evening of their own.
type StaffPrivatePage struct {
	Layout
	Form     Form
	Requests []PrivateRow
	Owner    bool
}

// PrivateRow is one request with the forms that settle it.
type PrivateRow struct {
	store.QuoteView
	Open  Form
	Close Form
}

func (s *Site) privateRoutes(e *echo.Echo) {
	e.GET("/private", func(c echo.Context) error { return s.showPrivate(c, http.StatusOK, Form{}) })
	e.POST("/private", s.askPrivate)
	staff := api.Need(shop.Staff)
	e.GET("/staff/private", func(c echo.Context) error { return s.showRequests(c, http.StatusOK, 0, Form{}) }, staff)
	e.POST("/staff/private/:id/close", s.closePrivate, staff)
	e.POST("/owner/private/:id/open", s.openPrivate, api.Need(shop.Owner))
}

func (s *Site) showPrivate(c echo.Context, status int, f Form) error {
	v, err := s.Store.PrivatePage(c.Request().Context())
	if err != nil {
		return err
	}
	f.Once = s.once()
	f.Order = []string{"offer", "day", "heads", "name", "email", "phone", "words"}
	p := PrivatePage{Layout: s.Layout(c, "An evening of your own"), Private: *v, Form: f}
	base := s.Store.Config.BaseURL
	p.Share = Share{Title: "An evening of your own at " + s.Store.Config.Shop, Text: "A private event for your party: what it costs, and which evenings are free.",
		URL: base + "/private", Image: base + "/picture.png", Alt: s.seasonPicture().alt()}
	for _, o := range v.Offers {
		p.Offers = append(p.Offers, Choice{Value: strconv.FormatInt(int64(o.ID), 10), Label: offerWords(o), Hint: o.Words})
	}
	for _, d := range v.Evenings {
		p.Days = append(p.Days, Choice{Value: d.String(), Label: d.Show()})
	}
	return s.Render(c, status, "private", p)
}

// offerWords says what an offer costs and for how many it is.
func offerWords(o store.OfferView) string {
	if o.FlatCents > 0 {
		return fmt.Sprintf("%s: %s for %s", o.Name, o.FlatCents, plural(o.Most, "person", "people"))
	}
	return fmt.Sprintf("%s: %s a head, %d to %d people", o.Name, o.Head, o.Least, o.Most)
}

func (s *Site) askPrivate(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	v := f.Values
	n := shop.NewQuote{Name: v.Get("name"), Email: v.Get("email"), Phone: v.Get("phone"), Words: v.Get("words")}
	offer, err := strconv.ParseInt(v.Get("offer"), 10, 64)
	if err != nil {
		f.Fail("offer", "Choose what it shall be.")
	}
	n.Offer = shop.OfferID(offer)
	if n.Day, err = unit.ParseDay(v.Get("day")); err != nil {
		f.Fail("day", "Choose one of the free evenings.")
	}
	if n.Heads, err = strconv.Atoi(trimmed(v, "heads")); err != nil || n.Heads < 1 {
		f.Fail("heads", "Write how many people as a whole number, such as 20.")
	}
	if !f.OK() {
		return s.showPrivate(c, http.StatusUnprocessableEntity, f)
	}
	ctx := c.Request().Context()
	r, err := s.Store.AskPrivate(ctx, n, store.Once{Key: v.Get("once"), Fingerprint: fingerprint(v, "private")})
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showPrivate(c, api.Status(err), f)
	}
	all, err := s.Store.PrivatePage(ctx)
	if err != nil {
		return err
	}
	p := PrivateAskedPage{Layout: s.Layout(c, "We have your question"), Asked: store.QuoteView{QuoteRequest: *r}, Mail: r.Email}
	for _, o := range all.Offers {
		if o.ID == r.OfferID {
			p.Asked.Offer, p.Asked.Quote = o, s.Store.PrivateQuote(o, r.Day, r.Heads)
		}
	}
	return s.Render(c, http.StatusOK, "private_asked", p)
}

func (s *Site) showRequests(c echo.Context, status int, bad shop.RequestID, f Form) error {
	list, err := s.Store.PrivateRequests(c.Request().Context())
	if err != nil {
		return err
	}
	p := StaffPrivatePage{Layout: s.Layout(c, "Private events"), Form: f, Owner: api.Actor(c).May(shop.Owner)}
	for _, r := range list {
		row := PrivateRow{QuoteView: r, Open: Form{Prefix: fmt.Sprintf("o%d-", r.ID), Values: url.Values{"starts": {"19:00"}}}, Close: Form{Prefix: fmt.Sprintf("c%d-", r.ID)}}
		if r.ID == bad {
			open, shut := f, f
			open.Prefix, shut.Prefix = row.Open.Prefix, row.Close.Prefix
			row.Open, row.Close = open, shut
		}
		p.Requests = append(p.Requests, row)
	}
	return s.Render(c, status, "staff_private", p)
}

func requestID(c echo.Context) (shop.RequestID, error) {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return 0, shop.Missing("The request")
	}
	return shop.RequestID(id), nil
}

func (s *Site) openPrivate(c echo.Context) error {
	id, err := requestID(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	day, dayErr := unit.ParseDay(f.Values.Get("day"))
	at, atErr := time.Parse("15:04", trimmed(f.Values, "starts"))
	if dayErr != nil || atErr != nil {
		f.Fail("starts", "Write the hour it begins, such as 19:00.")
		return s.showRequests(c, http.StatusUnprocessableEntity, id, f)
	}
	b, err := s.Store.OpenPrivate(c.Request().Context(), api.Actor(c), id, day.At(at.Hour(), at.Minute(), s.Store.Loc))
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showRequests(c, api.Status(err), id, f)
	}
	s.say(c, fmt.Sprintf("%s is open and held for %s as %s. %s is due as deposit.", b.Class.Code, b.PayerName, b.Ref, b.DueNow))
	return c.Redirect(http.StatusSeeOther, bookingPath(b))
}

func (s *Site) closePrivate(c echo.Context) error {
	id, err := requestID(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	if err := s.Store.ClosePrivate(c.Request().Context(), api.Actor(c), id, f.Values.Get("why")); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showRequests(c, api.Status(err), id, f)
	}
	s.say(c, "Closed.")
	return c.Redirect(http.StatusSeeOther, "/staff/private")
}
