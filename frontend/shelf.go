package frontend

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var shelfPages = map[string]Page{
	"shelf":       {Shop, ShelfPage{}},
	"shelf_strip": {Paper, ShelfStripPage{}},
}

// ShelfPage is the ready shelf: find a party, scan its packets, hand over.
type ShelfPage struct {
	Layout
	Q       string
	Find    Form
	Pickups []store.Pickup
	Hand    Form // a refused hand-over; its prefix names the party
	Put     Form // a packet onto the shelf
	Result  string
	Text    string
	Lines   []store.ShelfLine
	Warning string // what the shop has to settle about how it packs
}

// ShelfStripPage is the shelf on paper, to be cut into strips: each place with its code
// to scan, and what lies there this evening.
type ShelfStripPage struct {
	Sheet
	Places []StripPlace
}

// StripPlace is one place of the shelf.
type StripPlace struct {
	store.ShelfLine
	Code Code
}

// For is the hand-over form of one party.
func (p ShelfPage) For(id shop.BookingID) Form {
	prefix := fmt.Sprintf("b%d-", id)
	if p.Hand.Prefix != prefix {
		return Form{Prefix: prefix, Once: p.Hand.Once}
	}
	return p.Hand
}

func (s *Site) shelfRoutes(e *echo.Echo) {
	g := e.Group("/staff/shelf", api.Need(shop.Staff))
	g.GET("", func(c echo.Context) error {
		p := ShelfPage{Q: c.QueryParam("q")}
		if tag := c.QueryParam("put"); tag != "" {
			p.Result, p.Text = "right", tag+" is on the shelf."
		}
		return s.showShelf(c, http.StatusOK, p)
	})
	g.POST("", s.putOnShelf)
	g.POST("/:booking", s.handOver)
	g.GET("/strip", s.shelfStrip)
}

func (s *Site) showShelf(c echo.Context, status int, p ShelfPage) error {
	ctx := c.Request().Context()
	p.Layout = s.Layout(c, "Ready shelf")
	p.Warning = s.Store.PackWarning()
	p.Find.Values = url.Values{"q": {p.Q}}
	p.Hand.Once, p.Put.Once = s.once(), s.once()
	var err error
	if p.Pickups, err = s.Store.FindPickups(ctx, p.Q); err != nil {
		return err
	}
	if p.Lines, err = s.Store.Shelf(ctx); err != nil {
		return err
	}
	return s.Render(c, status, "shelf", p)
}

func (s *Site) putOnShelf(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	tag := store.ScannedTag(f.Values.Get("tag"))
	err = s.Store.Shelve(c.Request().Context(), api.Actor(c), store.Scan{Tag: tag, Once: f.Values.Get("once")}, f.Values.Get("place"))
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/staff/shelf?put="+url.QueryEscape(tag))
	}
	if e, ok := shop.AsError(err); ok && e.Kind == shop.NotFound {
		f.Fail("tag", e.Text)
		return s.showShelf(c, http.StatusNotFound, ShelfPage{Put: f, Result: "wrong", Text: e.Text})
	}
	if !refused(&f, err) {
		return err
	}
	return s.showShelf(c, api.Status(err), ShelfPage{Put: f, Result: "wrong", Text: err.Error()})
}

func (s *Site) handOver(c echo.Context) error {
	id, err := strconv.ParseInt(c.Param("booking"), 10, 64)
	if err != nil {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	f.Prefix = fmt.Sprintf("b%d-", id)
	to := f.Values.Get("named") // the button of one of those the party named
	if to == "" {
		to = f.Values.Get("to")
	}
	h := store.Handing{Booking: shop.BookingID(id), To: to, Tags: tagList(f.Values.Get("tags")), Reason: f.Values.Get("reason"), Once: f.Values.Get("once")}
	err = s.Store.Collect(c.Request().Context(), api.Actor(c), h)
	if err == nil {
		s.say(c, "Handed over to "+strings.TrimSpace(h.To)+".")
		return c.Redirect(http.StatusSeeOther, "/staff/shelf")
	}
	if e, ok := shop.AsError(err); ok && e.Kind == shop.NotFound {
		f.Fail("tags", e.Text)
	} else if !refused(&f, err) {
		return err
	}
	return s.showShelf(c, api.Status(err), ShelfPage{Q: f.Values.Get("q"), Hand: f, Result: "wrong", Text: err.Error()})
}

func (s *Site) shelfStrip(c echo.Context) error {
	lines, err := s.Store.ShelfPlaces(c.Request().Context())
	if err != nil {
		return err
	}
	p := ShelfStripPage{Sheet: Sheet{Layout: s.Layout(c, "Shelf strip"), Large: c.QueryParam("large") != ""}}
	for _, l := range lines {
		code, err := barCode(l.Place)
		if err != nil {
			return err
		}
		p.Places = append(p.Places, StripPlace{l, code})
	}
	return s.Render(c, http.StatusOK, "shelf_strip", p)
}
