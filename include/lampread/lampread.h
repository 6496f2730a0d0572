/* lampread.h - All of the library, in the order light takes through it. */
#ifndef LAMPREAD_LAMPREAD_H
#define LAMPREAD_LAMPREAD_H

#include "lampread/error.h"
#include "lampread/source.h"
#include "lampread/light.h"
#include "lampread/trace.h"
#include "lampread/edge.h"
#include "lampread/flash.h"
#include "lampread/pattern.h"
#include "lampread/group.h"
#include "lampread/codebook.h"
#include "lampread/teach.h"
#include "lampread/match.h"
#include "lampread/finding.h"
#include "lampread/report.h"
#include "lampread/export.h"
#include "lampread/pipeline.h"
#include "lampread/plot.h"
#include "lampread/watch.h"
#include "lampread/record.h"
#include "lampread/render.h"

/** Version of the library and the command. */
#define LAMPREAD_VERSION "0.1.0"

#endif
