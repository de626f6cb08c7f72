#include "inside.h"

#define BUTTON_MS  30 // a push button bounces for 10 to 20 ms: common practice, no source
#define CONTACT_MS 5  // a safety relay's contact for 1 to 3 ms: common practice, no source

// The inputs that are filtered.
static const warden_filtered filtered_inputs[NUM_FILTER] = {
	{IN_ESTOP_OK, CONTACT_MS},
	{IN_DOOR_CLOSED, CONTACT_MS},
	{IN_GAS_ALARM, CONTACT_MS},
	{IN_FLASHBACK, CONTACT_MS},
	{IN_MAINS_OK, CONTACT_MS},
	{IN_START, BUTTON_MS},
	{IN_RESET, BUTTON_MS},
	{IN_SOFT, BUTTON_MS},
};

// What differs counts up and what agrees counts down again, so that a contact that
// is open most of the time passes even if it never rests.
void warden_step_filter(warden_filter *f, warden_input *in) {
	if (f->primed == 0) {
		f->bits = in->bits;
		f->primed = 1;
	}
	uint32_t differs = in->bits ^ f->bits;
	uint32_t kept = 0; // what differs and does not pass yet
	for (uint8_t i = 0; i < NUM_FILTER; i++) {
		uint32_t bit = filtered_inputs[i].bit;
		if ((differs & bit) == 0) {
			if (f->ms[i] > 0) {
				f->ms[i]--;
			}
			continue;
		}
		f->ms[i]++;
		if (f->ms[i] < filtered_inputs[i].ms) {
			kept |= bit;
		} else {
			f->ms[i] = 0;
		}
	}
	in->bits ^= kept;
	f->bits = in->bits;
}
