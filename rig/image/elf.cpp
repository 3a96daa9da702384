#include <fmt/format.h>
#include <gelf.h>
#include <libelf.h>

#include <algorithm>
#include <iterator>
#include <memory>
#include <utility>

#include "rig/image/fault_list.hpp"
#include "rig/image/formats.hpp"
#include "rig/image/segment_collector.hpp"

namespace cvrig {

namespace {

struct elf_closer {
    void operator()(Elf* e) const noexcept { elf_end(e); }
};
using elf_handle = std::unique_ptr<Elf, elf_closer>;

class elf_reader {
public:
    explicit elf_reader(std::span<const std::byte> file) : file_{file}, copy_(file.size()) {
        std::ranges::transform(file, copy_.begin(),
                               [](std::byte b) { return static_cast<char>(b); });
    }

    void read() {
        if (elf_version(EV_CURRENT) == EV_NONE)
            return faults_.structure("This library of ELF files is too old for its header.");
        const elf_handle elf{elf_memory(copy_.data(), copy_.size())};
        GElf_Ehdr head{};
        if (!elf || elf_kind(elf.get()) != ELF_K_ELF || gelf_getehdr(elf.get(), &head) == nullptr)
            return faults_.structure(fmt::format("The ELF header cannot be read: {}.", why()));
        variant_ = gelf_getclass(elf.get()) == ELFCLASS64 ? "ELF64" : "ELF32";
        if (head.e_ident[EI_DATA] != ELFDATA2LSB)
            return faults_.structure("The ELF file is big endian; only little endian is read.");
        headers_end_ = head.e_ehsize;
        if (head.e_phoff <= headers_end_)
            headers_end_ = std::max(headers_end_,
                                    head.e_phoff + std::uint64_t{head.e_phnum} * head.e_phentsize);
        read_segments(*elf, head);
        index_loads();
        read_sections(*elf, head);
        if (any_section_)
            warn_of_content_outside();
        else
            use_segments();
        if (head.e_phnum == 0 && head.e_shnum == 0)
            faults_.structure("The ELF file has neither sections nor segments.");
    }

    firmware_image take() {
        firmware_image out;
        out.format = image_format::elf;
        out.variant = variant_;
        out.segments = pieces_.joined(faults_);
        out.rooms = std::move(rooms_);
        faults_.hand_over(out);
        return out;
    }

private:
    static std::string why() {
        const char* said = elf_errmsg(-1);
        return said == nullptr ? "no reason is known" : said;
    }

    [[nodiscard]] bool lies_in_file(std::uint64_t offset, std::uint64_t size) const {
        return offset <= file_.size() && size <= file_.size() - offset;
    }

    [[nodiscard]] bool has_table(const char* what, std::uint64_t offset, std::uint64_t count,
                                 std::uint64_t size) {
        if (count == 0 || lies_in_file(offset, count * size)) return true;
        faults_.structure(
            fmt::format("The table of {} {}s at offset 0x{:X} runs past the end of the file.",
                        count, what, offset));
        return false;
    }

    void read_segments(Elf& elf, const GElf_Ehdr& head) {
        if (!has_table("segment", head.e_phoff, head.e_phnum, head.e_phentsize)) return;
        for (int i = 0; i < head.e_phnum; ++i) {
            GElf_Phdr p{};
            if (gelf_getphdr(&elf, i, &p) == nullptr)
                return faults_.structure(fmt::format("Segment {} cannot be read: {}.", i, why()));
            if (p.p_type != PT_LOAD) continue;
            if (!lies_in_file(p.p_offset, p.p_filesz))
                faults_.structure(
                    fmt::format("Segment {} (offset 0x{:X}, {} bytes) runs past the end of "
                                "the file.",
                                i, p.p_offset, p.p_filesz));
            else if (p.p_filesz > p.p_memsz)
                faults_.structure(
                    fmt::format("Segment {} is larger in the file than in the memory.", i));
            else
                loads_.push_back(p);
        }
    }

    void read_sections(Elf& elf, const GElf_Ehdr& head) {
        if (!has_table("section", head.e_shoff, head.e_shnum, head.e_shentsize)) return;
        Elf_Scn* section = nullptr;
        while ((section = elf_nextscn(&elf, section)) != nullptr) {
            GElf_Shdr s{};
            if (gelf_getshdr(section, &s) == nullptr)
                return faults_.structure(
                    fmt::format("Section {} cannot be read: {}.", elf_ndxscn(section), why()));
            if ((s.sh_flags & SHF_ALLOC) != 0 && s.sh_size > 0) take_in(s, elf_ndxscn(section));
        }
    }

    void take_in(const GElf_Shdr& s, std::size_t number) {
        any_section_ = true;
        // A thread's own zeros take no room of the program's.
        const bool is_template = (s.sh_flags & SHF_TLS) != 0;
        if (s.sh_type == SHT_NOBITS) {
            if (!is_template) rooms_.push_back({s.sh_addr, s.sh_size});
            return;
        }
        if (!lies_in_file(s.sh_offset, s.sh_size))
            return faults_.structure(
                fmt::format("Section {} (offset 0x{:X}, {} bytes) runs past the end of the file.",
                            number, s.sh_offset, s.sh_size));
        in_sections_.push_back({s.sh_offset, s.sh_size});
        const auto stored = stored_at(s);
        load(stored, s.sh_offset, s.sh_size, number);
        if (stored != s.sh_addr) rooms_.push_back({s.sh_addr, s.sh_size});
    }

    /// Segments by how far their addresses lie from their offsets, then by offset, so that the one
    /// that holds a section is found without a look at all the others.
    void index_loads() {
        for (std::size_t i = 0; i < loads_.size(); ++i)
            if (loads_[i].p_filesz > 0) by_offset_.push_back(i);
        std::ranges::stable_sort(by_offset_, {}, [this](std::size_t i) { return place_of(i); });
        for (std::size_t k = 1; k < by_offset_.size(); ++k) {
            const auto& a = loads_[by_offset_[k - 1]];
            const auto& b = loads_[by_offset_[k]];
            if (a.p_vaddr - a.p_offset != b.p_vaddr - b.p_offset ||
                b.p_offset - a.p_offset >= a.p_filesz)
                continue;
            faults_.structure(
                fmt::format("Two segments overlap at address {}.", address_in_words(b.p_vaddr)));
            return by_offset_.clear();
        }
    }

    [[nodiscard]] std::pair<std::uint64_t, std::uint64_t> place_of(std::size_t load) const {
        const auto& p = loads_[load];
        return {p.p_vaddr - p.p_offset, p.p_offset};
    }

    /// Where a section's content lies before it is copied to where it runs.
    [[nodiscard]] std::uint64_t stored_at(const GElf_Shdr& s) const {
        const std::pair sought{s.sh_addr - s.sh_offset, s.sh_offset};
        const auto behind = std::ranges::upper_bound(by_offset_, sought, {},
                                                     [this](std::size_t i) { return place_of(i); });
        if (behind == by_offset_.begin()) return s.sh_addr;
        const auto& p = loads_[*std::prev(behind)];
        const bool holds =
            p.p_vaddr - p.p_offset == sought.first && s.sh_offset - p.p_offset < p.p_filesz;
        return holds ? p.p_paddr + (s.sh_offset - p.p_offset) : s.sh_addr;
    }

    /// A boot loader loads segments, so what they hold beside the sections is loaded, too. Padding is
    /// nothing, and the file's own headers, which may lie in the first segment, are none of the
    /// firmware's.
    void warn_of_content_outside() {
        std::vector<image_room> loaded;
        for (const auto& p : loads_) loaded.push_back({p.p_offset, p.p_filesz});
        const auto named = joined_rooms(std::move(in_sections_));
        std::uint64_t first = 0;
        std::size_t count = 0;
        auto section = named.begin();
        for (const auto& l : joined_rooms(std::move(loaded))) {
            for (auto at = std::max(l.address, headers_end_); at < l.address + l.size; ++at) {
                while (section != named.end() && section->address + section->size <= at) ++section;
                if (section != named.end() && section->address <= at) {
                    at = section->address + section->size - 1;
                    continue;
                }
                const auto byte = file_[static_cast<std::size_t>(at)];
                if (byte == std::byte{0} || byte == std::byte{0xFF}) continue;
                if (count++ == 0) first = at;
            }
        }
        if (count > 0)
            faults_.warn(
                fmt::format("The segments hold {} bytes (from offset 0x{:X} on) that no "
                            "section names; they are not judged.",
                            count, first));
    }

    /// Stretches of the file by offset, touching and overlapping ones made one.
    static std::vector<image_room> joined_rooms(std::vector<image_room> all) {
        std::ranges::sort(all, {}, &image_room::address);
        std::vector<image_room> out;
        for (const auto& r : all) {
            if (out.empty() || r.address > out.back().address + out.back().size)
                out.push_back(r);
            else
                out.back().size =
                    std::max(out.back().size, r.address + r.size - out.back().address);
        }
        return out;
    }

    /// A file without a table of sections (all stripped) still says what is loaded.
    void use_segments() {
        for (std::size_t i = 0; i < loads_.size(); ++i) {
            const auto& p = loads_[i];
            load(p.p_paddr, p.p_offset, p.p_filesz, i);
            if (p.p_memsz > p.p_filesz || p.p_paddr != p.p_vaddr)
                rooms_.push_back({p.p_vaddr, p.p_memsz});
        }
    }

    /// No more than the file is long, so that headers which all name the same bytes cost nothing.
    void load(std::uint64_t address, std::uint64_t offset, std::uint64_t size, std::size_t number) {
        loaded_ += size;
        if (loaded_ > file_.size())
            return faults_.structure(
                fmt::format("The contents up to number {} overlap in the file.", number));
        if (address > UINT64_MAX - size)
            return faults_.structure(
                fmt::format("Content {} runs past the last address there is.", number));
        pieces_.add(address,
                    file_.subspan(static_cast<std::size_t>(offset), static_cast<std::size_t>(size)),
                    number);
    }

    std::span<const std::byte> file_;
    std::vector<char> copy_;  ///< libelf wants to be allowed to write
    fault_list faults_;
    segment_collector pieces_{"section"};
    std::vector<GElf_Phdr> loads_;
    std::vector<std::size_t> by_offset_;   ///< of loads_, see index_loads()
    std::vector<image_room> in_sections_;  ///< in the file: offsets
    std::uint64_t headers_end_{0};
    std::vector<image_room> rooms_;
    std::uint64_t loaded_{0};
    bool any_section_{false};
    std::string variant_;
};

}  // namespace

firmware_image read_elf(std::span<const std::byte> file) {
    elf_reader reader{file};
    reader.read();
    return reader.take();
}

}  // namespace cvrig
