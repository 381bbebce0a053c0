package frontend

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"flitchbook/api/store"
)

var classesPages = map[string]Page{
	"classes": {Public, ClassesPage{}},
	"class":   {Public, ClassPage{}},
}

// ClassesPage is the season as everybody sees it.
type ClassesPage struct {
	Layout
	Season  store.SeasonPage
	Classes []SeasonCard
	Before  *SeasonCard // the last class whose bacon is ready before the holiday
	Deposit int         // parties of this many seats pay a deposit
	Share   Share
}

// SeasonCard is one class of the season with how full it is, in words.
type SeasonCard struct {
	store.ClassCard
	Room Room
}

// Room says how full a class is. Seats that are only being held are not "full" (R3).
type Room struct {
	Text  string
	Badge string // class of the badge: "ok" or "wait"
	Free  bool   // somebody may book now
	Held  bool   // what is left is being held and may come free
}

func (s *Site) classesRoutes(e *echo.Echo) {
	kept := &keptPage{}
	e.GET("/", func(c echo.Context) error {
		return s.unlessChanged(c, kept, s.Layout(c, "Classes"), func(l Layout) ([]byte, error) { return s.classes(c.Request().Context(), l) })
	})
	e.GET("/classes", func(c echo.Context) error { return c.Redirect(http.StatusMovedPermanently, "/") })
	e.GET("/classes/:code", s.class)
}

func (s *Site) room(c store.ClassCard) Room {
	switch {
	case !c.OnSale:
		return Room{Text: "not open for booking", Badge: "wait"}
	case c.Left > 0:
		return Room{Text: plural(c.Left, "seat left", "seats left"), Badge: "ok", Free: true}
	case c.Held > 0:
		return Room{Text: "being held, until " + s.until(c.HeldUntil), Badge: "wait", Held: true}
	}
	return Room{Text: "full: waiting list", Badge: "wait"}
}

func (s *Site) classes(ctx context.Context, l Layout) ([]byte, error) {
	season, err := s.Store.SeasonPage(ctx)
	if err != nil {
		return nil, err
	}
	p := ClassesPage{Layout: l, Season: *season, Deposit: s.Store.Rules.PartyDeposit, Share: s.shareSeason()}
	for _, card := range season.Classes {
		p.Classes = append(p.Classes, SeasonCard{card, s.room(card)})
	}
	if last := season.Holiday.Last; last != nil {
		p.Before = &SeasonCard{*last, s.room(*last)}
	}
	return s.Bytes("classes", p)
}
