"""Writes a video whose frames say which they are: `clip.py FILE SECONDS`.

30000/1001 frames a second, a picture of 320 x 180. Each frame bears its number counted from 0: as digits for
people, and along the top edge as twenty blocks of 16 x 16 for machines, white for 1: sixteen bits, highest
first, then the sum of its four nibbles modulo 16.
"""

import sys
from fractions import Fraction

import av
import numpy as np

RATE = Fraction(30000, 1001)
WIDTH, HEIGHT, BLOCK = 320, 180, 16
WHITE, BLACK, GROUND = 235, 16, 70
# Digits of five rows, three dots each, highest bit on the left.
DIGITS = ["75557", "26227", "71747", "71717", "55711", "74717", "74757", "71111", "75757", "75717"]


def bits(number, count):
    return [number >> place & 1 for place in reversed(range(count))]


def digit(number):
    dots = np.array([bits(int(row), 3) for row in DIGITS[number]], np.uint8)
    return np.kron(dots, np.ones((BLOCK, BLOCK), np.uint8)) * (WHITE - GROUND) + GROUND


def draw(picture, frame):
    check = sum(frame >> place & 15 for place in (0, 4, 8, 12)) & 15
    row = np.array(bits(frame, 16) + bits(check, 4), np.uint8) * (WHITE - BLACK) + BLACK
    picture[:BLOCK] = np.repeat(row, BLOCK)
    for place, character in enumerate(f"{frame:05d}"):
        left = place * 4 * BLOCK
        picture[60 : 60 + 5 * BLOCK, left : left + 3 * BLOCK] = digit(int(character))


def main(file, seconds):
    with av.open(file, "w") as container:
        stream = container.add_stream("libx264", rate=RATE)
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        # Quick to write, and a frame a second from which a seek can start.
        stream.options = {"preset": "ultrafast", "tune": "zerolatency", "g": "30", "crf": "30"}
        stream.codec_context.time_base = 1 / RATE
        # Luma over chroma; grey has no chroma.
        planes = np.full((HEIGHT * 3 // 2, WIDTH), 128, np.uint8)
        planes[:HEIGHT] = GROUND
        for number in range(int(seconds * RATE)):
            draw(planes, number)
            frame = av.VideoFrame.from_ndarray(planes, "yuv420p")
            frame.pts, frame.time_base = number, 1 / RATE
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


main(sys.argv[1], float(sys.argv[2]))
