package frontend

import (
	"strings"
	"time"

	"github.com/labstack/echo/v4"
)

// Layout is what every page knows. Fill it with Renderer.Layout.
type Layout struct {
	Title    string // of the page, without the shop's name
	Actor    Actor
	Flash    string // said once at the top of the page
	Lang     string
	ShopName string
	Now      string // the shop's clock when the page was made: "Thu Oct 8, 2026, 15:30"
	DemoBar  bool
	Path     string // of the request, without its query
	Loc      *time.Location
}

// Sheet is the Layout of a print.
type Sheet struct {
	Layout
	Version string // of the record printed, as shown: "version 3"; "" when it has none
	Large   bool   // large print: 18 pt
	Wide    bool   // printed across the paper, for many columns
}

// Actor is the person a page is made for.
type Actor struct {
	Name string // as shown; "" for a visitor
	Role Role
}

// Role decides which pages the navigation offers. It does not guard them.
type Role string

// The roles. A Visitor is anybody who is not signed in.
const (
	Visitor Role = ""
	Owner   Role = "owner"
	Staff   Role = "staff"
	Kitchen Role = "kitchen"
)

// Layout begins a page: who asks, when, and what to say once.
func (r *Renderer) Layout(c echo.Context, title string) Layout {
	l := Layout{
		Title:    title,
		Lang:     r.cfg.Lang,
		ShopName: r.cfg.ShopName,
		Now:      r.cfg.Now().In(r.cfg.Loc).Format("Mon Jan 2, 2006, 15:04"),
		DemoBar:  r.cfg.Demo,
		Path:     c.Request().URL.Path,
		Loc:      r.cfg.Loc,
	}
	if r.cfg.Actor != nil {
		l.Actor = r.cfg.Actor(c)
	}
	if r.cfg.Flash != nil && c.Path() != "/staff/bench/away" { // what a device keeps takes nobody's sentence
		l.Flash = r.cfg.Flash(c)
	}
	return l
}

// A NavItem is one link of the navigation.
type NavItem struct {
	Label, Href string
	Current     bool // the page is this one or lies under it
}

var nav = []struct {
	label, href string
	roles       []Role
}{
	{"Today", "/staff/today", []Role{Owner, Staff, Kitchen}},
	{"Kitchen", "/staff/kitchen", []Role{Kitchen}},
	{"Find", "/staff/find", []Role{Owner, Staff}},
	{"Classes", "/staff/classes", []Role{Owner, Staff}},
	{"Season", "/owner/season", []Role{Owner}},
	{"Meat", "/owner/meat", []Role{Owner}},
	{"Money", "/owner/money", []Role{Owner}},
	{"Books", "/owner/ledger", []Role{Owner}},
	{"Limits", "/owner/limits", []Role{Owner}},
	{"Trouble", "/owner/trouble", []Role{Owner}},
	{"Deliveries", "/staff/orders", []Role{Staff}},
	{"Bench", "/staff/bench", []Role{Owner, Staff}},
	{"Rack", "/staff/rack", []Role{Owner, Staff}},
	{"Rooms", "/staff/rooms", []Role{Owner, Staff}},
	{"Smoke", "/staff/smoke", []Role{Owner, Staff}},
	{"Shelf", "/staff/shelf", []Role{Owner, Staff}},
	{"Trace", "/staff/trace", []Role{Owner, Staff}},
	{"Notices", "/owner/notices", []Role{Owner}},
	{"Calendars", "/staff/calendars", []Role{Owner, Staff, Kitchen}},
}

// Nav lists the links the actor's role may follow, in the order of the working day.
func (l Layout) Nav() []NavItem {
	var items []NavItem
	for _, n := range nav {
		for _, role := range n.roles {
			if role == l.Actor.Role {
				under := strings.HasPrefix(l.Path, n.href+"/")
				items = append(items, NavItem{n.label, n.href, l.Path == n.href || under})
			}
		}
	}
	return items
}

// NavRows parts the links into the day's work and, for the owner, what is decided at the
// desk, so that neither crowds the other out.
func (l Layout) NavRows() [][]NavItem {
	var work, desk []NavItem
	for _, n := range l.Nav() {
		if strings.HasPrefix(n.Href, "/owner/") || n.Href == "/staff/calendars" && l.Actor.Role == Owner {
			desk = append(desk, n)
		} else {
			work = append(work, n)
		}
	}
	if len(desk) == 0 {
		return [][]NavItem{work}
	}
	return [][]NavItem{work, desk}
}
