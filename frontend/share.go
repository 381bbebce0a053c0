package frontend

import (
	"context"
	"crypto/sha256"
	"fmt"
	"net/http"
	"sync"

	"github.com/labstack/echo/v4"

	"flitchbook/api/store"
)

// Share is what a page shows of itself where somebody sends its address to a friend: the
// words of the Open Graph protocol (ogp.me), with a picture made from the shop's own words.
type Share struct {
	Title, Text, URL, Image, Alt string
}

// shareWords is what stands on a page's picture, line by line.
type shareWords struct {
	Shop, Title, When, Ready, Price, Where string
}

func (p shareWords) alt() string {
	text := p.Shop + ": " + p.Title
	for _, part := range []string{p.When, p.Ready, p.Price} {
		if part != "" {
			text += ". " + part
		}
	}
	return text + "."
}

func (s *Site) shareRoutes(e *echo.Echo) {
	kept := &pictures{of: map[string]keptPicture{}}
	e.GET("/classes/:code/picture.png", func(c echo.Context) error {
		p, err := s.Store.ClassPage(c.Request().Context(), c.Param("code"))
		if err != nil {
			return err
		}
		return s.sendPicture(c, kept, p.Code, s.classPicture(p))
	})
	e.GET("/picture.png", func(c echo.Context) error { return s.sendPicture(c, kept, "", s.seasonPicture()) })
}

func (s *Site) seasonPicture() shareWords {
	return shareWords{Shop: s.Store.Config.Shop, Title: "Bacon-curing classes and butchery clinics", When: "Book for yourself, for friends, or as a present"}
}

func (s *Site) classPicture(p *store.ClassPage) shareWords {
	v := shareWords{Shop: s.Store.Config.Shop, Title: p.Title, When: p.StartsAt.Show(s.Store.Loc), Price: p.Price.String() + " a seat"}
	if p.ReadyAbout > 0 {
		v.Ready = "Bacon ready about " + p.ReadyAbout.Show()
	}
	return v
}

// shareClass is a class in the words its picture has too. Seats left are not among them:
// what is sent to a friend is looked at days later.
func (s *Site) shareClass(p *store.ClassPage) Share {
	v := s.classPicture(p)
	url := s.Store.Config.BaseURL + "/classes/" + p.Code
	text := v.When + ". "
	if v.Ready != "" {
		text += v.Ready + ". "
	}
	return Share{Title: p.Title + ", " + v.When, Text: text + p.Does, URL: url, Image: url + "/picture.png", Alt: v.alt()}
}

func (s *Site) shareSeason() Share {
	v, base := s.seasonPicture(), s.Store.Config.BaseURL
	return Share{Title: "Classes at " + v.Shop, Text: v.Title + ". " + v.When + ".", URL: base + "/", Image: base + "/picture.png", Alt: v.alt()}
}

// pictures keeps each page's picture under the words on it: it is drawn again when they
// change.
type pictures struct {
	mu sync.Mutex
	of map[string]keptPicture
}

type keptPicture struct {
	words shareWords
	png   []byte
}

func (k *pictures) get(of string, words shareWords) ([]byte, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if kept, ok := k.of[of]; ok && kept.words == words {
		return kept.png, nil
	}
	b, err := words.draw()
	if err == nil {
		k.of[of] = keptPicture{words, b}
	}
	return b, err
}

func (s *Site) sendPicture(c echo.Context, kept *pictures, of string, words shareWords) error {
	at, err := s.Store.Address(context.WithoutCancel(c.Request().Context()))
	if err != nil {
		return err
	}
	words.Where = at.Lines()
	b, err := kept.get(of, words)
	if err != nil {
		return err
	}
	h := c.Response().Header()
	tag := fmt.Sprintf(`"%x"`, sha256.Sum256(b))[:18] + `"`
	h.Set("Cache-Control", "public, max-age=600")
	h.Set("ETag", tag)
	if c.Request().Header.Get("If-None-Match") == tag {
		return c.NoContent(http.StatusNotModified)
	}
	return c.Blob(http.StatusOK, "image/png", b)
}
