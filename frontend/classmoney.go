package frontend

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

var classMoneyPages = map[string]Page{
	"class_monies": {Shop, ClassMoniesPage{}},
	"class_money":  {Shop, ClassMoneyPage{}},
}

// ClassMoniesPage is every class's account on one line.
type ClassMoniesPage struct {
	Layout
	Rows   []store.ClassMoneyRow
	Income unit.Money
	Cost   unit.Money
	Margin unit.Money
}

// ClassMoneyPage is one class's account to the cent.
type ClassMoneyPage struct {
	Layout
	Money   store.ClassMoney
	In, Out []money.ClassLine
	Share   string // margin of income
	Factor  string // of the animal's cost over its value
	Basis   string
}

// moneyDays is how far the list looks back and ahead.
const moneyDays = 120

func (s *Site) classMoneyRoutes(e *echo.Echo) {
	owner := api.Need(shop.Owner)
	e.GET("/owner/money", s.classMonies, owner)
	e.GET("/owner/classes/:code/money", s.classMoney, owner)
}

func (s *Site) classMonies(c echo.Context) error {
	today := s.Store.Today()
	rows, err := s.Store.ClassMonies(c.Request().Context(), today-moneyDays, today+moneyDays)
	if err != nil {
		return err
	}
	p := ClassMoniesPage{Layout: s.Layout(c, "Money of the classes"), Rows: rows}
	for _, r := range rows {
		p.Income, p.Cost, p.Margin = p.Income+r.Income, p.Cost+r.Cost, p.Margin+r.Margin
	}
	return s.Render(c, http.StatusOK, "class_monies", p)
}

// basisWords says what the meat of an account rests on.
var basisWords = map[string]string{
	"weighed":  "slabs as weighed at the bench",
	"planned":  "slabs as the cut list plans them: not all are weighed yet",
	"reckoned": "slabs as the farm's usual animal would give them: nothing is delivered yet",
}

func (s *Site) classMoney(c echo.Context) error {
	m, err := s.Store.ClassMoney(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	p := ClassMoneyPage{Layout: s.Layout(c, m.Class.Code+": money"), Money: *m, Share: m.Account.AShare.Pct(1), Basis: basisWords[m.Basis]}
	if a := m.Animal; a != nil {
		p.Factor = a.Factor.Pct(2)
	}
	for _, l := range m.Account.Lines {
		if l.Income {
			p.In = append(p.In, l)
		} else {
			l.Cents = -l.Cents
			p.Out = append(p.Out, l)
		}
	}
	return s.Render(c, http.StatusOK, "class_money", p)
}
