package journal

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"pressrig/proof"
	"pressrig/trials"
)

// maxProofs is the longest list of proofs.
const maxProofs = 5000

// ErrProof marks a proof that is no complete record; nothing was stored.
var ErrProof = errors.New("this is no complete proof record")

// AppendProof stores a signed proof at once, with the profile that it was made
// for, and returns its number. Stored proofs are never changed.
func (j *Journal) AppendProof(r proof.Record, profile []byte) (uint32, error) {
	if err := checkProof(&r, profile); err != nil {
		return 0, fmt.Errorf("store proof: %w: %w", ErrProof, err)
	}
	var number uint32
	err := j.ask(func(w *writer) error {
		if err := w.ready(); err != nil {
			return err
		}
		err := w.commit(proofItem{r, profile, &number})
		if err != nil && !misfit(err) {
			w.lastErr = err
			w.show()
		}
		return err
	})
	if err != nil {
		return 0, fmt.Errorf("store proof: %w", err)
	}
	return number, nil
}

func checkProof(r *proof.Record, profile []byte) error {
	switch {
	case r.Function == "" || r.Rig == "":
		return errors.New("function or rig is missing")
	case r.By == "":
		return errors.New("nobody signed it")
	case r.Result != proof.Passed && r.Result != proof.Failed:
		return fmt.Errorf("the result is %q; only passed and failed are stored", r.Result)
	case r.At.IsZero():
		return errors.New("it has no date")
	case sha256.Sum256(profile) != r.ProfileHash:
		return fmt.Errorf("profile hash is %x; its text has %x", r.ProfileHash, sha256.Sum256(profile))
	}
	return nil
}

type proofItem struct {
	proof.Record
	profile []byte
	to      *uint32
}

func (it proofItem) what() string { return "proof of " + it.Function }

func (it proofItem) write(s *txn) error {
	err := s.exec("document", `INSERT INTO document (hash, body) VALUES (?, ?) ON CONFLICT DO NOTHING`,
		it.ProfileHash[:], append([]byte{}, it.profile...))
	if err != nil {
		return err
	}
	value := sql.NullFloat64{Float64: it.Value, Valid: !math.IsNaN(it.Value) && !math.IsInf(it.Value, 0)}
	_, row, err := s.put("proof", `INSERT INTO proof (function, rig, at_ms, by_name, result,
		value, unit, limit_text, by_eye, why, note, profile_hash, by_user)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		it.Function, it.Rig, it.At.UnixMilli(), it.By, string(it.Result), value, it.Unit, it.Limit,
		it.ByEye, it.Why, it.Note, it.ProfileHash[:], it.User)
	if err != nil {
		return err
	}
	*it.to, err = numberIn(row, 0)
	return err
}

const selectProof = `SELECT number, function, rig, at_ms, by_name, result, value, unit, limit_text,
	by_eye, why, note, profile_hash, by_user FROM proof `

// Proofs lists proofs with numbers below before (0: all), newest first.
func (j *Journal) Proofs(before uint32, limit int) ([]proof.Record, error) {
	if before == 0 {
		before = math.MaxUint32
	}
	return j.proofs(selectProof+`WHERE number < ? ORDER BY number DESC LIMIT ?`, before, min(limit, maxProofs))
}

// NewestProofs is the newest proof of every function of the rig.
func (j *Journal) NewestProofs(rig string) (map[string]proof.Record, error) {
	list, err := j.proofs(selectProof+`WHERE number IN
		(SELECT MAX(number) FROM proof WHERE rig = ? GROUP BY function)`, rig)
	if err != nil {
		return nil, err
	}
	newest := map[string]proof.Record{}
	for _, r := range list {
		newest[r.Function] = r
	}
	return newest, nil
}

func (j *Journal) proofs(query string, args ...any) ([]proof.Record, error) {
	ctx, cancel := reading()
	defer cancel()
	rows, err := j.read.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, fmt.Errorf("list proofs: %w", err)
	}
	defer rows.Close()
	var list []proof.Record
	for rows.Next() {
		if len(list) == maxProofs { // a damaged index gives the same ones again and again
			return nil, fmt.Errorf("list proofs: more than %d", maxProofs)
		}
		r := proof.Record{Value: math.NaN()}
		var value sql.NullFloat64
		var at int64
		var hash []byte
		err := rows.Scan(&r.Number, &r.Function, &r.Rig, &at, &r.By, &r.Result, &value, &r.Unit, &r.Limit,
			&r.ByEye, &r.Why, &r.Note, &hash, &r.User)
		if err != nil {
			return nil, fmt.Errorf("list proofs: %w", err)
		}
		if value.Valid {
			r.Value = value.Float64
		}
		r.At = time.UnixMilli(at)
		copy(r.ProfileHash[:], hash)
		list = append(list, r)
	}
	return list, errors.Join(rows.Err(), rows.Close())
}

// Began is when this journal began: what was never proven counts from then.
func (j *Journal) Began() (time.Time, error) {
	ctx, cancel := reading()
	defer cancel()
	var ms int64
	err := j.read.QueryRowContext(ctx, `SELECT began_ms FROM beginning`).Scan(&ms)
	if err != nil {
		return time.Time{}, fmt.Errorf("beginning of the journal: %w", err)
	}
	return time.UnixMilli(ms), nil
}

// begin notes once when the journal began: now, or with its first cycle.
func (j *Journal) begin() error {
	ctx, cancel := reading() // pages of a damaged file may lead in circles
	defer cancel()
	return j.inTransaction(ctx, func(s *txn) error {
		return s.exec("beginning", `INSERT INTO beginning
			SELECT 1, MIN(?, COALESCE((SELECT MIN(started_ms) FROM cycle), ?)) WHERE true ON CONFLICT DO NOTHING`,
			j.opt.Now().UnixMilli(), math.MaxInt64)
	})
}

// proofRows: proofs are never taken away, so their numbers have no hole, and
// the beginning stands in one row.
func (c *checker) proofRows() error {
	if c.report.Version < proofVersion {
		return nil
	}
	err := c.db.QueryRowContext(context.Background(), `SELECT count(*) FROM proof`).Scan(&c.report.Proofs)
	if err != nil {
		return err
	}
	return c.each(`SELECT 'table proof: ' || count(*) || ' rows, the newest has number ' || MAX(number) ||
		': a proof was taken away' FROM proof HAVING count(*) <> MAX(number)
		UNION ALL SELECT 'table beginning: ' || count(*) || ' rows, one is right' FROM beginning
		HAVING count(*) <> 1`)
}

// exportProof is a proof as ExportProofsJSON writes it.
type exportProof struct {
	Number   uint32    `json:"number"`
	Function string    `json:"function"`
	Rig      string    `json:"rig"`
	At       time.Time `json:"at"`
	By       string    `json:"by"`
	User     string    `json:"by_user"` // as the kernel knew it
	Result   string    `json:"result"`
	Value    *float64  `json:"value"` // null: nothing was measured
	Unit     string    `json:"unit"`
	Limit    string    `json:"limit"`
	ByEye    bool      `json:"by_eye"`
	Why      string    `json:"why"`
	Note     string    `json:"note"`
	Profile  string    `json:"profile_sha256"`
}

func exportOf(r *proof.Record) exportProof {
	e := exportProof{r.Number, r.Function, r.Rig, r.At.UTC(), r.By, r.User, string(r.Result), nil, r.Unit, r.Limit,
		r.ByEye, r.Why, r.Note, fmt.Sprintf("%x", r.ProfileHash)}
	if !math.IsNaN(r.Value) {
		e.Value = &r.Value
	}
	return e
}

// ExportProofsJSON writes all proofs, newest first.
func (j *Journal) ExportProofsJSON(w io.Writer) error {
	list, err := j.Proofs(0, maxProofs)
	if err != nil {
		return err
	}
	head, err := j.Head()
	if err != nil {
		return err
	}
	out := struct {
		Format string        `json:"format"`
		Proofs []exportProof `json:"proofs"`
		Ledger trials.Ledger `json:"ledger"` // of the journal when this was exported
	}{"pressrig proofs, format 1", []exportProof{}, head.Told()}
	for i := range list {
		out.Proofs = append(out.Proofs, exportOf(&list[i]))
	}
	return json.NewEncoder(w).Encode(out)
}

// ExportProofsCSV writes all proofs as a table, newest first.
func (j *Journal) ExportProofsCSV(w io.Writer) error {
	list, err := j.Proofs(0, maxProofs)
	if err != nil {
		return err
	}
	out := csv.NewWriter(w)
	rows := [][]string{{"number", "function", "rig", "at", "by", "result", "value", "unit", "limit", "by_eye",
		"why", "note", "profile_sha256", "by_user"}}
	for i := range list {
		e := exportOf(&list[i])
		value := ""
		if e.Value != nil {
			value = strconv.FormatFloat(*e.Value, 'g', -1, 64)
		}
		rows = append(rows, []string{strconv.FormatUint(uint64(e.Number), 10), e.Function, e.Rig,
			e.At.Format(time.RFC3339), e.By, e.Result, value, e.Unit, e.Limit, strconv.FormatBool(e.ByEye),
			e.Why, e.Note, e.Profile, e.User})
	}
	return out.WriteAll(rows)
}
