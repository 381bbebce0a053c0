package frontend

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var afterPages = map[string]Page{
	"after": {Public, AfterPage{}},
	"again": {Public, AgainPage{}},
}

// AfterPage asks two questions once somebody has had their bacon for a week.
type AfterPage struct {
	Layout
	Class  string
	Form   Form
	Marks  []Choice
	Back   string
	Given  bool
	Secret string
}

// AgainPage is last time's bacon with the classes it could be had in again.
type AgainPage struct {
	Layout
	Last    store.LastTime
	Classes []AgainClass
	Secret  string
}

// AgainClass is a class ahead, with the form that begins a booking like last time's.
type AgainClass struct {
	store.ClassCard
	Fields []AgainField
}

// AgainField is one hidden answer of that form.
type AgainField struct{ Name, Value string }

func (s *Site) afterRoutes(e *echo.Echo) {
	e.GET("/g/:secret/after", func(c echo.Context) error {
		g, err := s.guestBySecret(c)
		if err != nil {
			return err
		}
		f := Form{Values: url.Values{}}
		r, err := s.Store.Review(c.Request().Context(), g.ID)
		if err != nil {
			return err
		}
		if r != nil {
			f.Values = url.Values{"class_mark": {r.ClassMark}, "class_words": {r.ClassWords}, "bacon_mark": {r.BaconMark}, "bacon_words": {r.BaconWords}}
		}
		return s.showAfter(c, http.StatusOK, g, f, r != nil)
	})
	e.POST("/g/:secret/after", s.saveAfter)
	e.GET("/s/:secret/again", s.again)
	e.POST("/s/:secret/note", s.keepNote)
}

func (s *Site) showAfter(c echo.Context, status int, g *store.GuestPage, f Form, given bool) error {
	p := AfterPage{Layout: s.Layout(c, "Two questions"), Class: g.Class.Title, Form: f, Back: "/g/" + c.Param("secret"), Given: given, Secret: c.Param("secret")}
	p.Path = "/g"
	p.Form.Order = []string{"class_mark", "class_words", "bacon_mark", "bacon_words"}
	for _, m := range shop.Marks {
		p.Marks = append(p.Marks, Choice{Value: m, Label: m})
	}
	return s.Render(c, status, "after", p)
}

func (s *Site) saveAfter(c echo.Context) error {
	g, err := s.guestBySecret(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	v := f.Values
	r := shop.Review{GuestID: g.ID, ClassMark: v.Get("class_mark"), ClassWords: v.Get("class_words"), BaconMark: v.Get("bacon_mark"), BaconWords: v.Get("bacon_words")}
	if err := s.Store.SaveReview(c.Request().Context(), shop.Customer("guest by link"), r); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showAfter(c, api.Status(err), g, f, false)
	}
	s.say(c, "Thank you. We read every one.")
	return c.Redirect(http.StatusSeeOther, "/g/"+c.Param("secret")+"/after")
}

// again shows last time's weight, spice and note, and begins a booking with them. Whoever
// fetches may hold this address, so that no name, e-mail or answer about food goes along.
func (s *Site) again(c echo.Context) error {
	last, err := s.Store.LastTime(c.Request().Context(), c.Param("secret"))
	if err != nil {
		return err
	}
	h := c.Response().Header()
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("X-Robots-Tag", "noindex")
	p := AgainPage{Layout: s.Layout(c, "The same again"), Last: *last, Secret: c.Param("secret")}
	p.Path = "/s"
	n := strconv.Itoa(len(last.Slabs))
	for _, cl := range last.Classes {
		f := []AgainField{{"do", "count"}, {"seats", n}, {"me", "yes"}}
		note := ""
		for i, sl := range last.Slabs {
			code := sl.Code
			if cl.Away[code] {
				code = "" // not on the table that day
			}
			f = append(f, AgainField{fmt.Sprintf("p%d_pick1", i+1), code})
			if sl.Note != "" {
				note += sl.Spice + ": " + sl.Note + ". "
			}
		}
		if note != "" {
			f = append(f, AgainField{"note", "Like last time, with a note: " + note})
		}
		p.Classes = append(p.Classes, AgainClass{cl.ClassCard, f})
	}
	return s.Render(c, http.StatusOK, "again", p)
}

func (s *Site) keepNote(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	tag := f.Values.Get("tag")
	if err := s.Store.KeepNote(c.Request().Context(), c.Param("secret"), tag, f.Values.Get("note")); err != nil {
		if !refused(&f, err) {
			return err
		}
		if text := f.Errors["note"]; text != "" {
			delete(f.Errors, "note")
			f.Fail("note-"+tag, text)
			f.Values.Set("note-"+tag, f.Values.Get("note"))
		}
		return s.mySlab(c, api.Status(err), f)
	}
	s.say(c, "Kept for the next time.")
	return c.Redirect(http.StatusSeeOther, "/s/"+c.Param("secret"))
}
