package frontend

import (
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

var farmPages = map[string]Page{
	"farm_order": {Public, FarmPage{}},
	"order_slip": {Paper, SlipPage{}},
}

// FarmPage asks a farm its one question, without a login.
type FarmPage struct {
	Layout
	View    store.OrderView
	What    string // "4 pigs"
	Asks    bool   // the question is open
	Again   bool   // it was answered once, and the order raised since
	Cut     bool   // delivered: there is a note of what the animals gave
	Secret  string
	Form    Form
	Answers []Choice
	Weights []string
}

// SlipPage is the order on one sheet of paper.
type SlipPage struct {
	Sheet
	View    store.OrderView
	What    string
	Open    bool // not answered yet
	Weights []string
}

func (s *Site) farmRoutes(e *echo.Echo) {
	e.GET("/o/:secret", func(c echo.Context) error { return s.farmOrder(c, http.StatusOK, Form{}) })
	e.POST("/o/:secret", s.answerOrder)
	e.GET("/o/:secret/slip", func(c echo.Context) error {
		v, err := s.Store.OrderSlip(c.Request().Context(), c.Param("secret"))
		if err != nil {
			return err
		}
		return s.slip(c, v)
	})
}

func (s *Site) farmOrder(c echo.Context, status int, f Form) error {
	v, err := s.Store.OrderSlip(c.Request().Context(), c.Param("secret"))
	if err != nil {
		return err
	}
	p := FarmPage{Layout: s.Layout(c, v.Order.Ref()), View: *v, Secret: c.Param("secret"), Form: f,
		What: shop.AnimalsIn(v.Order.Species, v.Order.Animals), Asks: v.Order.Asks(), Again: v.Order.AskedAgain(), Answers: farmAnswers(v.Order), Weights: weightsOf(v)}
	p.Cut = v.Order.State == shop.Delivered || v.Order.State == shop.Settled
	return s.Render(c, status, "farm_order", p)
}

// farmAnswers are the two or three answers a farm can give.
func farmAnswers(o shop.Order) []Choice {
	all := []Choice{{Value: "yes", Label: "Yes, " + shop.AnimalsIn(o.Species, o.Animals)}}
	if o.Animals > 1 {
		all = append(all, Choice{Value: "fewer", Label: "Fewer: write how many below"})
	}
	no := "No, none that week"
	if o.AskedAgain() {
		no = "No, it stays at " + shop.AnimalsIn(o.Species, o.Promised)
	}
	return append(all, Choice{Value: "no", Label: no})
}

// weightsOf are the weights a farm is paid by, once known.
func weightsOf(v *store.OrderView) []string {
	var out []string
	for _, a := range v.Animals {
		line := shop.AnimalOf(a.Species) + " " + strconv.Itoa(a.Number)
		if a.Tag != "" {
			line += " (" + a.Tag + ")"
		}
		switch {
		case a.Condemned:
			line += ": condemned at inspection"
		default:
			line += ": " + a.Hot.LB() + " hot"
		}
		for _, sd := range a.Sides {
			line += ", " + sd.Which + " " + sd.Cold.LB() + " cold"
		}
		out = append(out, line)
	}
	return out
}

func (s *Site) answerOrder(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	_, err = s.Store.AnswerOrder(c.Request().Context(), c.Param("secret"), farmAnswer(f))
	if err != nil {
		if refused(&f, err) {
			return s.farmOrder(c, api.Status(err), f)
		}
		return err
	}
	return c.Redirect(http.StatusSeeOther, "/o/"+c.Param("secret"))
}

// farmAnswer reads an answer; what is no number counts as none and is refused by name.
func farmAnswer(f Form) shop.FarmAnswer {
	n, _ := strconv.Atoi(strings.TrimSpace(f.Values.Get("animals")))
	return shop.FarmAnswer{Says: f.Values.Get("answer"), Animals: n, Words: f.Values.Get("words")}
}

func (s *Site) slip(c echo.Context, v *store.OrderView) error {
	p := SlipPage{Sheet: Sheet{Layout: s.Layout(c, v.Order.Ref()), Version: "version " + strconv.Itoa(v.Order.Revision)}, View: *v,
		What: shop.AnimalsIn(v.Order.Species, v.Order.Animals), Open: v.Order.Asks() || v.Order.State == shop.Needed, Weights: weightsOf(v)}
	return s.Render(c, http.StatusOK, "order_slip", p)
}

// pounds reads a weight typed into a box of pounds.
func pounds(f *Form, field string) unit.Weight {
	w, err := unit.ParseWeightIn(f.Values.Get(field), unit.Pound)
	if err != nil {
		f.Fail(field, err.Error())
	}
	return w
}
