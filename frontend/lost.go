package frontend

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var lostPages = map[string]Page{
	"lost":      {Shop, LostPage{}},
	"lost_case": {Shop, LostCasePage{}},
}

// LostPage lists cases of lost tags and opens one.
type LostPage struct {
	Layout
	Cases []store.LostView
	Form  Form
}

// LostCasePage is one case: the slabs missing, the pieces found, what the evidence says.
type LostCasePage struct {
	Layout
	Case   store.LostView
	Form   Form
	Spices []Choice
	Rows   []string // letters of the pieces to weigh
	Mine   bool     // the first initials are the reader's own
}

func (s *Site) lostRoutes(e *echo.Echo) {
	g := e.Group("/staff/lost", api.Need(shop.Staff))
	g.GET("", s.lost)
	g.POST("", s.loseTags)
	g.GET("/:id", s.lostCase)
	g.POST("/:id/pieces", s.foundPieces)
	g.POST("/:id/initials", s.initialLost)
}

func (s *Site) lost(c echo.Context) error { return s.showLost(c, http.StatusOK, LostPage{}) }

func (s *Site) showLost(c echo.Context, status int, p LostPage) error {
	p.Layout = s.Layout(c, "Lost tags")
	var err error
	if p.Cases, err = s.Store.LostCases(c.Request().Context()); err != nil {
		return err
	}
	return s.Render(c, status, "lost", p)
}

func (s *Site) loseTags(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	count := func(name string) int {
		n, err := strconv.Atoi(trimmed(f.Values, name))
		if err != nil {
			f.Fail(name, "Write a number.")
		}
		return n
	}
	in, out := count("in"), count("out")
	var id shop.LostID
	if f.OK() {
		id, err = s.Store.LoseTags(c.Request().Context(), api.Actor(c), tagList(f.Values.Get("tags")), in, out)
	}
	if err != nil || !f.OK() {
		status := http.StatusUnprocessableEntity
		if err != nil {
			if e, ok := shop.AsError(err); ok && e.Kind == shop.NotFound {
				f.Fail("tags", e.Text)
			} else if !refused(&f, err) {
				return err
			} else {
				status = api.Status(err)
			}
		}
		return s.showLost(c, status, LostPage{Form: f})
	}
	s.say(c, "These slabs are unproven: they go no further before two people have told them apart.")
	return c.Redirect(http.StatusSeeOther, fmt.Sprintf("/staff/lost/%d", id))
}

func lostID(c echo.Context) (shop.LostID, error) {
	n, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return 0, echo.NewHTTPError(http.StatusNotFound)
	}
	return shop.LostID(n), nil
}

func (s *Site) lostCase(c echo.Context) error {
	return s.showLostCase(c, http.StatusOK, Form{})
}

// letters name the pieces: the last ones of the alphabet, so that none looks like a class.
const letters = "XYZUVWRSTPQLMNJK"

func (s *Site) showLostCase(c echo.Context, status int, f Form) error {
	id, err := lostID(c)
	if err != nil {
		return err
	}
	v, err := s.Store.LostCase(c.Request().Context(), id)
	if err != nil {
		return err
	}
	p := LostCasePage{Layout: s.Layout(c, "Lost tags"), Case: *v, Form: f, Spices: []Choice{{Value: "", Label: "cannot be told"}}}
	p.Mine = v.FirstBy != "" && v.FirstBy == p.Actor.Name
	seen := map[string]bool{}
	for _, m := range v.Slabs {
		if !seen[m.Spice] && m.Spice != "" {
			seen[m.Spice] = true
			p.Spices = append(p.Spices, Choice{Value: m.Spice, Label: m.Spice + " " + m.Jar})
		}
	}
	for i := range len(v.Slabs) - (v.In - v.Out) {
		letter := string(letters[i%len(letters)])
		if i >= len(letters) {
			letter += strconv.Itoa(i / len(letters))
		}
		p.Rows = append(p.Rows, letter)
	}
	return s.Render(c, status, "lost_case", p)
}

func (s *Site) foundPieces(c echo.Context) error {
	id, err := lostID(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	var pieces []store.Evidence
	for _, letter := range f.Values["letter"] {
		pieces = append(pieces, store.Evidence{Letter: letter, Drained: inPounds(&f, "drained"+letter), Spice: f.Values.Get("spice" + letter)})
	}
	if f.OK() {
		err = s.Store.FoundPieces(c.Request().Context(), api.Actor(c), id, pieces)
	}
	if err != nil || !f.OK() {
		status := http.StatusUnprocessableEntity
		if err != nil {
			if !refused(&f, err) {
				return err
			}
			status = api.Status(err)
		}
		return s.showLostCase(c, status, f)
	}
	return c.Redirect(http.StatusSeeOther, fmt.Sprintf("/staff/lost/%d", id))
}

func (s *Site) initialLost(c echo.Context) error {
	id, err := lostID(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	round, _ := strconv.Atoi(f.Values.Get("round"))
	settled, err := s.Store.InitialLost(c.Request().Context(), api.Actor(c), id, round)
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showLostCase(c, api.Status(err), f)
	}
	words := "Your initials stand. Another person has to put theirs."
	if settled {
		words = "Settled: put the tags on as it says below."
	}
	s.say(c, words)
	return c.Redirect(http.StatusSeeOther, fmt.Sprintf("/staff/lost/%d", id))
}

// WayWords says in plain words what becomes of a piece.
func (p LostCasePage) WayWords(way string) string {
	return map[string]string{"re-tag": "gets its tag again", "draw": "shared out by draw", "dump": "dumped"}[strings.TrimSpace(way)]
}
