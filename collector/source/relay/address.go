package relay

import (
	"context"
	"fmt"
	"net"
	"net/netip"
	"net/url"
	"strings"
)

// address is where the other soakline answers.
type address struct {
	shown      string // as errors show it
	host, port string
}

// parseAddress reads http://HOST:PORT; http:// may be left out.
func parseAddress(text string) (address, error) {
	full := text
	if !strings.Contains(text, "://") {
		full = "http://" + text
	}
	u, err := url.Parse(full)
	if err != nil || u.Scheme != "http" || u.Hostname() == "" || strings.Trim(u.Path, "/") != "" || u.User != nil || u.RawQuery != "" {
		return address{}, fmt.Errorf("%q: expected the address that the other soakline shows, http://HOST:PORT", text)
	}
	a := address{shown: u.Host, host: u.Hostname(), port: u.Port()}
	if a.port == "" {
		a.port = "80"
	}
	return a, nil
}

// resolve gives HOST:PORT with a numeric host: a soakline that listens to others takes
// any number of its own, but no name that it was not told.
func (a address) resolve(ctx context.Context) (string, error) {
	if _, err := netip.ParseAddr(a.host); err == nil || a.host == "localhost" {
		return net.JoinHostPort(a.host, a.port), nil
	}
	list, err := net.DefaultResolver.LookupNetIP(ctx, "ip", a.host)
	if err != nil || len(list) == 0 {
		return "", fmt.Errorf("%s: no such computer on this network: %w", a.host, err)
	}
	for _, ip := range list {
		if ip.Unmap().Is4() { // the other one listens on 0.0.0.0 more often than not
			return net.JoinHostPort(ip.Unmap().String(), a.port), nil
		}
	}
	return net.JoinHostPort(list[0].String(), a.port), nil
}
