package frontend

import (
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"
)

// once is a token for one press of a button.
func (s *Site) once() string { return strconv.FormatInt(s.Store.Config.Rand(), 36) }

// formOf reads what was sent.
func formOf(c echo.Context) (Form, error) {
	v, err := c.FormParams()
	if err != nil {
		return Form{}, echo.NewHTTPError(http.StatusBadRequest)
	}
	return Form{Values: v}, nil
}

// trimmed is one answer without the spaces at its ends.
func trimmed(v url.Values, name string) string { return strings.TrimSpace(v.Get(name)) }

// fingerprint tells two forms sent with one token apart: the same press counts once,
// changed answers do not pass for it. It keeps nothing of what was typed.
func fingerprint(v url.Values, what string) string {
	rest := url.Values{}
	for name, typed := range v {
		if name != "once" {
			rest[name] = typed
		}
	}
	sum := sha256.Sum256([]byte(what + "\n" + rest.Encode()))
	return hex.EncodeToString(sum[:])
}
