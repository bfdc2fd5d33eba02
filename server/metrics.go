package server

import (
	"bytes"
	"net/http"

	"soakline/collector/ring"
	"soakline/server/openmetrics"
)

// metrics answers GET /metrics: the newest row as OpenMetrics text.
func (s *Server) metrics(w http.ResponseWriter, _ *http.Request) error {
	session := s.config.Session
	chs, _ := session.Channels()
	info := session.Info()
	snap := openmetrics.Snapshot{Session: info.ID, Origin: string(info.Origin), Simulated: info.Simulated, Channels: chs}
	if last := s.published.Load(); last > 0 {
		block := blocks.Get().(*ring.Block)
		defer blocks.Put(block)
		if n, _ := session.Ring().Rows(last-1, 1, block); n > 0 {
			row := block.Row(0)
			snap.Values, snap.AtS, snap.Rows = row.Values, row.At, row.Seq
		}
	}
	var b bytes.Buffer
	if err := openmetrics.Write(&b, snap); err != nil {
		return err
	}
	writeBody(w, http.StatusOK, openmetrics.ContentType, b.Bytes())
	return nil
}
