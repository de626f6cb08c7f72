package drivers

import "sync"

// reportQueue is a bounded queue with a policy for when it is full: the oldest
// snapshot goes, then the oldest event or bad frame, and if there are only
// hellos and downs the newest of them makes room for the one that comes, for
// it is the state of the line now that counts. A pump hands the front to the
// channel, so that order is kept whoever reads.
type reportQueue struct {
	out  chan Report
	wake chan struct{}
	end  chan struct{}
	gone chan struct{}

	mu      sync.Mutex
	items   []Report // fixed capacity
	dropped uint64
	hellos  int // in items
}

func newReportQueue(size int) *reportQueue {
	q := &reportQueue{
		out:   make(chan Report),
		wake:  make(chan struct{}, 1),
		end:   make(chan struct{}),
		gone:  make(chan struct{}),
		items: make([]Report, 0, size),
	}
	go q.pump()
	return q
}

func (q *reportQueue) close() {
	close(q.end)
	<-q.gone
}

func (q *reportQueue) droppedSoFar() uint64 {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.dropped
}

// helloWaits reports whether a hello is still behind other reports.
func (q *reportQueue) helloWaits() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.hellos > 0
}

// put never blocks.
func (q *reportQueue) put(r *Report) {
	q.mu.Lock()
	if len(q.items) == cap(q.items) {
		q.dropped++
		q.remove(q.victim())
	}
	q.items = append(q.items, *r)
	if r.Kind == ReportHello {
		q.hellos++
	}
	q.mu.Unlock()
	select {
	case q.wake <- struct{}{}:
	default:
	}
}

func (q *reportQueue) victim() int {
	other := len(q.items) - 1
	for i := len(q.items) - 1; i >= 0; i-- {
		if k := q.items[i].Kind; k == ReportEvent || k == ReportBad {
			other = i
		}
	}
	for i := range q.items {
		if q.items[i].Kind == ReportSnapshot {
			return i
		}
	}
	return other
}

func (q *reportQueue) remove(i int) {
	if q.items[i].Kind == ReportHello {
		q.hellos--
	}
	q.items = append(q.items[:i], q.items[i+1:]...)
}

func (q *reportQueue) front(r *Report) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.items) == 0 {
		return false
	}
	*r = q.items[0]
	q.remove(0)
	return true
}

// pump ends with close, which drops what nobody took.
func (q *reportQueue) pump() {
	defer close(q.gone)
	defer close(q.out)
	var r Report
	for {
		for q.front(&r) {
			select {
			case q.out <- r:
			case <-q.end:
				return
			}
		}
		select {
		case <-q.wake:
		case <-q.end:
			return
		}
	}
}
