/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_predict
#define H_predict
int predict(void);
#endif
