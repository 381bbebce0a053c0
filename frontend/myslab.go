package frontend

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
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

	Choices []Choice // for a slab that was dumped
	Lost    Form
	LostTag string
}

// LostForm is the choice for one dumped slab.
func (p MySlabPage) LostForm(m MyPiece) Form {
	if m.Tag != p.LostTag {
		return Form{Prefix: "d-" + m.Tag + "-"}
	}
	f := p.Lost
	f.Prefix = "d-" + m.Tag + "-"
	return f
}

var amendChoices = []Choice{
	{Value: "again", Label: "Cure another slab for me, with the same spice", Hint: "It takes its two weeks and more from the day we seal it. We write with the day."},
	{Value: "class", Label: "Another class", Hint: "We get in touch to find a date."},
	{Value: "money", Label: "All the money back for this slab's seat", Hint: "It goes back to whoever paid, the way they paid."},
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
	e.POST("/s/:secret/dumped", s.chooseMyAmend)
}

func (s *Site) mySlab(c echo.Context, status int, f Form) error {
	return s.showMySlab(c, status, MySlabPage{Form: f})
}

func (s *Site) chooseMyAmend(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	tag := trimmed(f.Values, "tag")
	if err := s.Store.ChooseMyAmend(c.Request().Context(), c.Param("secret"), tag, shop.AmendChoice(f.Values.Get("choice"))); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.showMySlab(c, api.Status(err), MySlabPage{Lost: f, LostTag: tag})
	}
	return c.Redirect(http.StatusSeeOther, "/s/"+c.Param("secret"))
}

func (s *Site) showMySlab(c echo.Context, status int, p MySlabPage) error {
	m, err := s.Store.MySlab(c.Request().Context(), c.Param("secret"))
	if err != nil {
		return err
	}
	// The address is the key: it must not leak by referrer, nor be kept by a search engine.
	c.Response().Header().Set("Referrer-Policy", "no-referrer")
	c.Response().Header().Set("X-Robots-Tag", "noindex")
	p.Layout, p.Slab, p.Secret, p.Choices = s.Layout(c, "My slab"), *m, c.Param("secret"), amendChoices
	p.Whole = []Choice{{Value: "whole", Label: "Leave it whole"}, {Value: "sliced", Label: "Slice it for me"}}
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
