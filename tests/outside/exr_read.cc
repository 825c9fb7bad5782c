/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See exr_read.h. */
#include "exr_read.h"

#include <ImfChannelList.h>
#include <ImfFrameBuffer.h>
#include <ImfHeader.h>
#include <ImfInputFile.h>
#include <cstdio>

int exr_read_size(const char *path, size_t *width, size_t *height, size_t *channels, char *fault,
                  size_t size) {
    try {
        Imf::InputFile file(path);
        const Imath::Box2i box = file.header().dataWindow();
        *width = static_cast<size_t>(box.max.x - box.min.x + 1);
        *height = static_cast<size_t>(box.max.y - box.min.y + 1);
        *channels = 0;
        for (auto c = file.header().channels().begin(); c != file.header().channels().end(); ++c) {
            ++*channels;
        }
        return file.isComplete() ? 0 : (std::snprintf(fault, size, "not complete"), 1);
    } catch (const std::exception &e) {
        std::snprintf(fault, size, "%s", e.what());
        return 1;
    }
}

int exr_read_channel(const char *path, const char *name, float *plane, int *half, char *fault,
                     size_t size) {
    try {
        Imf::InputFile file(path);
        const Imf::Channel *channel = file.header().channels().findChannel(name);
        if (!channel) {
            std::snprintf(fault, size, "no channel %s", name);
            return 1;
        }
        *half = channel->type == Imf::HALF;
        const Imath::Box2i box = file.header().dataWindow();
        size_t width = static_cast<size_t>(box.max.x - box.min.x + 1);
        Imf::FrameBuffer buffer;
        buffer.insert(name, Imf::Slice(Imf::FLOAT, reinterpret_cast<char *>(plane), sizeof(float),
                                       width * sizeof(float)));
        file.setFrameBuffer(buffer);
        file.readPixels(box.min.y, box.max.y);
        return 0;
    } catch (const std::exception &e) {
        std::snprintf(fault, size, "%s", e.what());
        return 1;
    }
}
