/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See ocio.h. */
#include "ocio.h"

#include <OpenColorIO/OpenColorIO.h>
#include <cstdio>

namespace OCIO = OCIO_NAMESPACE;

static int take(const OCIO::ConstTransformRcPtr &transform, float *rgb, size_t count, char *fault,
                size_t size) {
    try {
        OCIO::ConstProcessorRcPtr processor = OCIO::Config::CreateRaw()->getProcessor(transform);
        OCIO::ConstCPUProcessorRcPtr cpu = processor->getOptimizedCPUProcessor(
            OCIO::BIT_DEPTH_F32, OCIO::BIT_DEPTH_F32, OCIO::OPTIMIZATION_NONE);
        OCIO::PackedImageDesc image(rgb, static_cast<long>(count), 1, 3);
        cpu->apply(image);
        return 0;
    } catch (const std::exception &e) {
        std::snprintf(fault, size, "%s", e.what());
        return 1;
    }
}

int ocio_file(const char *path, float *rgb, size_t count, char *fault, size_t size) {
    OCIO::ClearAllCaches(); /* a name may hold another file by now */
    OCIO::FileTransformRcPtr file = OCIO::FileTransform::Create();
    file->setSrc(path);
    file->setInterpolation(OCIO::INTERP_LINEAR);
    file->setCDLStyle(OCIO::CDL_ASC); /* with the clamps of ASC CDL 1.2 */
    return take(file, rgb, count, fault, size);
}

int ocio_built_in(const char *style, float *rgb, size_t count, char *fault, size_t size) {
    OCIO::BuiltinTransformRcPtr built_in = OCIO::BuiltinTransform::Create();
    try {
        built_in->setStyle(style);
    } catch (const std::exception &e) {
        std::snprintf(fault, size, "%s", e.what());
        return 1;
    }
    return take(built_in, rgb, count, fault, size);
}

int ocio_moncurve(double gamma, double offset, float *rgb, size_t count, char *fault, size_t size) {
    OCIO::ExponentWithLinearTransformRcPtr curve = OCIO::ExponentWithLinearTransform::Create();
    const double gammas[4] = {gamma, gamma, gamma, 1}, offsets[4] = {offset, offset, offset, 0};
    curve->setGamma(gammas);
    curve->setOffset(offsets);
    return take(curve, rgb, count, fault, size);
}
