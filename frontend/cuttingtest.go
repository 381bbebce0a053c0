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
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

var cuttingTestPages = map[string]Page{
	"cutting_tests": {Shop, CuttingTestsPage{}},
	"cutting_test":  {Shop, CuttingTestPage{}},
}

// testParts is how many by-products the form asks for.
const testParts = 8

// CuttingTestsPage lists the tests and takes another.
type CuttingTestsPage struct {
	Layout
	Tests []store.CuttingTestView
	Form  Form
	Farms []Choice
	Rows  []int
}

// CuttingTestPage is one test with what it says.
type CuttingTestPage struct {
	Layout
	Test   store.CuttingTestView
	Factor string
	Fact   string // portion factor; "" without a portion
	At     Form
	Asked  bool // a price was asked for
	Price  unit.Money
	Pound  unit.Money
	Plate  unit.Money // a portion
}

func (s *Site) cuttingTestRoutes(e *echo.Echo) {
	g, owner := e.Group("/owner/cutting-tests"), api.Need(shop.Owner)
	g.GET("", func(c echo.Context) error { return s.cuttingTests(c, http.StatusOK, Form{}) }, owner)
	g.POST("", s.addCuttingTest, owner)
	g.GET("/:id", s.cuttingTest, owner)
}

func (s *Site) cuttingTests(c echo.Context, status int, f Form) error {
	ctx := c.Request().Context()
	p := CuttingTestsPage{Layout: s.Layout(c, "Cutting tests"), Form: f, Farms: []Choice{{Value: "", Label: "Bought elsewhere"}}}
	var err error
	if p.Tests, err = s.Store.CuttingTests(ctx); err != nil {
		return err
	}
	farms, err := s.Store.FarmSpecies(ctx)
	if err != nil {
		return err
	}
	for _, y := range farms {
		p.Farms = append(p.Farms, Choice{Value: y.Value(), Label: y.Name + ", " + y.Species})
	}
	for i := range testParts {
		p.Rows = append(p.Rows, i+1)
	}
	p.Form.Once = s.once()
	p.Form.Order = []string{"name", "day", "farm", "whole_side", "bought", "price", "usable_name", "usable"}
	for _, i := range p.Rows {
		p.Form.Order = append(p.Form.Order, fmt.Sprintf("part%d", i), fmt.Sprintf("weight%d", i), fmt.Sprintf("price%d", i))
	}
	return s.Render(c, status, "cutting_tests", p)
}

// optionalPounds reads a weight that may be left empty.
func optionalPounds(f *Form, field string) unit.Weight {
	if strings.TrimSpace(f.Values.Get(field)) == "" {
		return 0
	}
	return pounds(f, field)
}

// optionalMoney reads an amount that may be left empty.
func optionalMoney(f *Form, field string) unit.Money {
	typed := strings.TrimSpace(f.Values.Get(field))
	if typed == "" {
		return 0
	}
	m, err := unit.ParseMoney(typed)
	if err != nil {
		f.Fail(field, err.Error())
	}
	return m
}

// optionalOunces reads a portion in ounces.
func optionalOunces(f *Form, field string) unit.Weight {
	typed := strings.TrimSpace(f.Values.Get(field))
	if typed == "" {
		return 0
	}
	w, err := unit.ParseWeightIn(typed, unit.Ounce)
	if err != nil {
		f.Fail(field, err.Error())
	}
	return w
}

func (s *Site) addCuttingTest(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	ctx, v := c.Request().Context(), f.Values
	n := shop.CuttingTest{Name: v.Get("name"), UsableName: v.Get("usable_name"), Note: v.Get("note"), WholeSide: v.Get("whole_side") == "yes",
		Bought: pounds(&f, "bought"), Price: optionalMoney(&f, "price"), Usable: pounds(&f, "usable"),
		Cooked: optionalPounds(&f, "cooked"), Carving: optionalPounds(&f, "carving"), Portion: optionalOunces(&f, "portion")}
	if typed := strings.TrimSpace(v.Get("day")); typed != "" {
		if n.Day, err = unit.ParseDay(typed); err != nil {
			f.Fail("day", "Write a date such as 2026-10-09.")
		}
	}
	if farm := v.Get("farm"); farm != "" {
		farms, err := s.Store.FarmSpecies(ctx)
		if err != nil {
			return err
		}
		for _, y := range farms {
			if y.Value() == farm {
				n.FarmID, n.Species = y.FarmID, y.Species
			}
		}
		if n.FarmID == 0 {
			f.Fail("farm", "Choose one of the farms.")
		}
	}
	if err := n.SetParts(typedParts(&f)); err != nil {
		return err
	}
	if !f.OK() {
		return s.cuttingTests(c, http.StatusUnprocessableEntity, f)
	}
	id, err := s.Store.AddCuttingTest(ctx, api.Actor(c), n, store.Once{Key: v.Get("once"), Fingerprint: v.Encode()})
	if err != nil {
		if refused(&f, err) {
			return s.cuttingTests(c, api.Status(err), f)
		}
		return err
	}
	s.say(c, "The cutting test is kept.")
	return c.Redirect(http.StatusSeeOther, fmt.Sprintf("/owner/cutting-tests/%d", id))
}

// typedParts reads the by-products; rows left empty count for nothing.
func typedParts(f *Form) []carcass.TestPart {
	var parts []carcass.TestPart
	for i := 1; i <= testParts; i++ {
		name, weight, price := fmt.Sprintf("part%d", i), fmt.Sprintf("weight%d", i), fmt.Sprintf("price%d", i)
		p := carcass.TestPart{Name: strings.TrimSpace(f.Values.Get(name)), Weight: optionalPounds(f, weight), Price: optionalMoney(f, price)}
		if p == (carcass.TestPart{}) && f.Errors[weight] == "" && f.Errors[price] == "" {
			continue
		}
		// Said here, beside the row it is about: rows may be left empty between others.
		if p.Name == "" {
			f.Fail(name, "Name this part.")
		}
		if p.Weight <= 0 {
			f.Fail(weight, "What does it weigh? More than nothing.")
		}
		if p.Price < 0 {
			f.Fail(price, "A price below zero is not one.")
		}
		parts = append(parts, p)
	}
	return parts
}

func (s *Site) cuttingTest(c echo.Context) error {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return shop.Missing("The cutting test")
	}
	v, err := s.Store.CuttingTest(c.Request().Context(), id)
	if err != nil {
		return err
	}
	p := CuttingTestPage{Layout: s.Layout(c, "Cutting test: "+v.Name), Test: *v, Factor: fmt.Sprintf("%.4f", v.Result.Factor.Float())}
	if v.Portion > 0 {
		p.Fact = fmt.Sprintf("%.4f", v.Result.PortionFact.Float())
	}
	status := http.StatusOK
	if q := c.QueryParams(); q.Has("price") {
		p.At.Values = q
		if p.Price, err = unit.ParseMoney(q.Get("price")); err != nil || p.Price < 0 {
			p.At.Fail("price", "Write a price a pound, such as 3.49.")
			status = http.StatusUnprocessableEntity
		} else {
			p.Asked = true
			p.Pound, p.Plate = v.Result.At(p.Price)
		}
	}
	return s.Render(c, status, "cutting_test", p)
}
