// What hal.go sees of the compiled portable layer.
#ifndef HAL_H
#define HAL_H

#include "../hal/fitting.h"
#include "../hal/limits.h"
#include "../hal/speaker.h"
#include "../hal/store.h"
#include "../hal/stroke.h"

extern uint8_t hal_cells[STORE_CELLS];
extern uint32_t hal_writes[STORE_CELLS]; // how often each was written
extern int32_t hal_left;                 // writes until power goes; the next one leaves hal_torn
extern uint8_t hal_torn;
extern uint8_t hal_busy_for;             // questions for which a write goes on

void hal_store_open(store *s, uint8_t nv_new);
void hal_store_step(store *s, uint8_t want);
bool hal_fitting_read(fitting *f, const uint8_t *bytes);

#endif
