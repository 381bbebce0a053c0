package frontend

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/store"
)

var mySlabPages = map[string]Page{
	"my_slab": {Public, MySlabPage{}},
}

// MySlabPage is what a party sees of its slabs, by a secret address.
type MySlabPage struct {
	Layout
	Slab   store.MySlab
	Pieces []MyPiece
	Form   Form
	Whole  []Choice
	Secret string
	Packed bool // something of it is packed: it may be had again
}

// NoteField is the box for a note about one slab.
func (p MySlabPage) NoteField(m MyPiece) (Field, error) {
	f := p.Form
	f.Prefix = "n-" + m.Tag + "-"
	f.Values = url.Values{"note": {m.Note}}
	f.Errors = nil
	if text := p.Form.Errors["note-"+m.Tag]; text != "" {
		f.Errors, f.Values = map[string]string{"note": text}, url.Values{"note": p.Form.Values["note-"+m.Tag]}
	}
	return f.Field("note", "What would you change?", "maxlength=200", "autocomplete=off", "hint=Such as: more pepper.")
}

// MyPiece is one slab with its stages in words.
type MyPiece struct {
	store.MyPiece
	Stages []MyStage
	Story  string // where it comes from and what the weight did
}

// MyStage is one of the five plain stages.
type MyStage struct {
	Text      string
	Done, Now bool
}

var stageWords = []string{"sealed", "curing", "smoked", "packed", "on the shelf"}

func (s *Site) mySlabRoutes(e *echo.Echo) {
	e.GET("/s/:secret", func(c echo.Context) error { return s.mySlab(c, http.StatusOK, Form{}) })
	e.POST("/s/:secret/collector", s.nameCollector)
	e.POST("/s/:secret/sliced", s.chooseSliced)
}

func (s *Site) mySlab(c echo.Context, status int, f Form) error {
	m, err := s.Store.MySlab(c.Request().Context(), c.Param("secret"))
	if err != nil {
		return err
	}
	// The address is the key: it must not leak by referrer, nor be kept by a search engine.
	c.Response().Header().Set("Referrer-Policy", "no-referrer")
	c.Response().Header().Set("X-Robots-Tag", "noindex")
	p := MySlabPage{Layout: s.Layout(c, "My slab"), Slab: *m, Form: f, Secret: c.Param("secret"),
		Whole: []Choice{{Value: "whole", Label: "Leave it whole"}, {Value: "sliced", Label: "Slice it for me"}}}
	p.Path = "/s" // the address stays out of the page
	for _, x := range m.Slabs {
		mp := MyPiece{MyPiece: x}
		for i, w := range stageWords {
			mp.Stages = append(mp.Stages, MyStage{Text: w, Done: i+1 < x.Stage || x.Stage == 5, Now: i+1 == x.Stage})
		}
		mp.Story = slabStory(x)
		p.Packed = p.Packed || x.Finished > 0
		p.Pieces = append(p.Pieces, mp)
	}
	return s.Render(c, status, "my_slab", p)
}

func (s *Site) nameCollector(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	if err := s.Store.NameCollector(c.Request().Context(), c.Param("secret"), f.Values.Get("collector")); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.mySlab(c, api.Status(err), f)
	}
	return c.Redirect(http.StatusSeeOther, "/s/"+c.Param("secret"))
}

func (s *Site) chooseSliced(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	choice := f.Values.Get("whole")
	if choice != "whole" && choice != "sliced" {
		f.Fail("whole", "Please choose one of the two.")
		return s.mySlab(c, http.StatusUnprocessableEntity, f)
	}
	if err := s.Store.ChooseSliced(c.Request().Context(), c.Param("secret"), choice == "sliced"); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.mySlab(c, api.Status(err), f)
	}
	return c.Redirect(http.StatusSeeOther, "/s/"+c.Param("secret"))
}

// slabStory tells a slab's way in a few words: farm, side, and what the weight did. Where
// the weight did something out of the ordinary, nothing is made up about it.
func slabStory(p store.MyPiece) string {
	var says []string
	if p.Farm != "" {
		from := "From " + p.Farm
		if p.Side != "" {
			from += ", the " + p.Side + " side of the pig"
		}
		says = append(says, from+".")
	}
	if p.Green > 0 {
		began := "You started with " + p.Green.LB()
		switch {
		case p.Lost || p.GivenUp || !p.AsUsual:
		case p.Gone:
			began += "; " + p.Finished.LB() + " went home with you: the rest was water you made the salt take out"
		default:
			began += "; " + p.Finished.LB() + " is waiting: the rest was water you made the salt take out"
		}
		says = append(says, began+".")
	}
	return strings.Join(says, " ")
}
