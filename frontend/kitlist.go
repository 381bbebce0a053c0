package frontend

import (
	"fmt"
	"net/http"
	"slices"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var kitPages = map[string]Page{
	"kit_list":    {Paper, KitListPage{}},
	"class_sheet": {Paper, ClassSheetPage{}},
	"take_home":   {Paper, TakeHomePage{}},
}

// KitListPage is the kit list of a class on paper.
type KitListPage struct {
	Sheet
	List  store.KitList
	Seal  *store.SealSheet
	Lines []KitListLine
}

// KitListLine is a slab's kit with its tag to scan.
type KitListLine struct {
	store.KitLine
	Code Code
}

// ClassSheetPage is the class sheet and door list on paper.
type ClassSheetPage struct {
	Sheet
	Class store.ClassSheet
	Seal  *store.SealSheet
}

// TakeHomePage is the take-home cards of a class, four to a sheet.
type TakeHomePage struct {
	Sheet
	Cards []TakeHomeCard
}

// Fours is the cards as they lie on the sheets.
func (p TakeHomePage) Fours() [][]TakeHomeCard { return slices.Collect(slices.Chunk(p.Cards, 4)) }

// TakeHomeCard is one card with the address of its My-slab page to scan.
type TakeHomeCard struct {
	store.TakeHome
	Code Code
}

// WeightsOf is each tag's weight as shown.
func (p ClassSheetPage) WeightsOf() map[string]string {
	w := map[string]string{}
	for _, l := range p.Class.Lines {
		for i, tag := range l.Tags {
			if i < len(l.Weights) {
				w[tag] = l.Weights[i]
			}
		}
	}
	return w
}

func (s *Site) kitRoutes(e *echo.Echo) {
	e.GET("/staff/classes/:code/kitlist", s.kitList, api.Need(shop.Staff))
	e.POST("/staff/classes/:code/kits", s.kitClass, api.Need(shop.Staff))
	e.GET("/staff/classes/:code/cards", s.takeHome, api.Need(shop.Staff))
	e.GET("/staff/classes/:code/sheet", s.classSheet, api.Need(shop.Staff))
}

func (s *Site) kitList(c echo.Context) error {
	k, err := s.Store.KitList(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	p := KitListPage{Sheet: Sheet{Layout: s.Layout(c, "Kit list "+k.Code), Version: fmt.Sprintf("version %d", k.Revision)}, List: *k}
	if p.Seal, err = s.Store.SealSheet(c.Request().Context(), k.Code); err != nil {
		return err
	}
	for _, l := range k.Lines {
		code, err := barCode(l.Tag)
		if err != nil {
			return err
		}
		p.Lines = append(p.Lines, KitListLine{l, code})
	}
	return s.Render(c, http.StatusOK, "kit_list", p)
}

func (s *Site) kitClass(c echo.Context) error {
	n, err := s.Store.KitClass(c.Request().Context(), api.Actor(c), c.Param("code"))
	if err != nil {
		return err
	}
	s.say(c, plural(n, "kit is made.", "kits are made."))
	return c.Redirect(http.StatusSeeOther, "/staff/today")
}

func (s *Site) classSheet(c echo.Context) error {
	sh, err := s.Store.ClassSheet(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	seal, err := s.Store.SealSheet(c.Request().Context(), sh.Code)
	if err != nil {
		return err
	}
	large := c.QueryParam("large") != "" // nine columns in large print go across the paper
	return s.Render(c, http.StatusOK, "class_sheet", ClassSheetPage{Seal: seal, Sheet: Sheet{Layout: s.Layout(c, "Class sheet "+sh.Code), Version: fmt.Sprintf("version %d", sh.Revision), Large: large, Wide: large}, Class: *sh})
}

func (s *Site) takeHome(c echo.Context) error {
	cards, err := s.Store.TakeHome(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	p := TakeHomePage{Sheet: Sheet{Layout: s.Layout(c, "Take-home cards "+c.Param("code"))}}
	for _, card := range cards {
		code, err := qrCode(card.Link)
		if err != nil {
			return err
		}
		code.Text = "your slab's page" // the address is a secret: it is scanned, not read
		p.Cards = append(p.Cards, TakeHomeCard{card, code})
	}
	return s.Render(c, http.StatusOK, "take_home", p)
}
