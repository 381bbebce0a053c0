package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

type classMoneyOutput struct {
	Body struct {
		Code   string         `json:"code"`
		Income unit.Money     `json:"income"`
		Cost   unit.Money     `json:"cost"`
		Margin unit.Money     `json:"margin"`
		ASeat  unit.Money     `json:"cost_per_seat"`
		Unpaid unit.Money     `json:"unpaid" doc:"Of the income, not in yet."`
		Basis  string         `json:"basis,omitempty" doc:"What the meat rests on: weighed, planned or reckoned."`
		Lines  []moneyLineOut `json:"lines"`
		Notes  []string       `json:"notes" doc:"What is not counted."`
		Animal *animalCostOut `json:"animal,omitempty" doc:"The whole animal, its cost shared by value."`
	}
}

type moneyLineOut struct {
	Name   string     `json:"name"`
	Amount unit.Money `json:"amount" doc:"Costs below zero."`
	Why    string     `json:"why"`
}

type animalCostOut struct {
	What   string       `json:"what"`
	Farm   string       `json:"farm"`
	Order  int          `json:"order,omitempty"`
	Meat   unit.Money   `json:"meat"`
	Kill   unit.Money   `json:"kill"`
	Haul   unit.Money   `json:"haul"`
	Cost   unit.Money   `json:"cost"`
	Value  unit.Money   `json:"value" doc:"Of its cuts by the value list."`
	Factor unit.Ratio   `json:"factor" doc:"Cost of value."`
	Cuts   []cutCostOut `json:"cuts"`
}

type cutCostOut struct {
	Cut    string      `json:"cut"`
	Weight unit.Weight `json:"weight"`
	List   unit.Money  `json:"list" doc:"A pound."`
	Cost   unit.Money  `json:"cost" doc:"Its part; the parts add up to the cost."`
	Pound  unit.Money  `json:"costs_a_pound"`
}

func moneyLines(lines []money.ClassLine) []moneyLineOut {
	out := []moneyLineOut{}
	for _, l := range lines {
		out = append(out, moneyLineOut{l.Name, l.Cents, l.Why})
	}
	return out
}

func (a *Server) classMoneyOperations() {
	operation(a, http.MethodGet, "/classes/{code}/money", "class-money", "What a class brings and costs, line by line", []shop.Role{shop.Owner},
		func(ctx context.Context, _ shop.Actor, in *classPath) (*classMoneyOutput, error) {
			m, err := a.Store.ClassMoney(ctx, in.Code)
			if err != nil {
				return nil, err
			}
			out := &classMoneyOutput{}
			b := &out.Body
			b.Code, b.Income, b.Cost, b.Margin, b.ASeat, b.Unpaid, b.Basis = m.Class.Code, m.Account.Income, m.Account.Cost, m.Account.Margin, m.Account.ASeat, m.Unpaid, m.Basis
			b.Lines, b.Notes = moneyLines(m.Account.Lines), append([]string{}, m.Notes...)
			if c := m.Animal; c != nil {
				b.Animal = &animalCostOut{What: c.What, Farm: c.Farm, Order: c.Order, Meat: c.Meat, Kill: c.Kill, Haul: c.Haul, Cost: c.Cost, Value: c.Value, Factor: c.Factor, Cuts: []cutCostOut{}}
				for _, cut := range c.Cuts {
					b.Animal.Cuts = append(b.Animal.Cuts, cutCostOut{cut.Cut, shown(cut.Weight), cut.List, cut.Cost, cut.Pound})
				}
			}
			return out, nil
		})
}
